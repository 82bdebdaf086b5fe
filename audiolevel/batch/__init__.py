"""A folder of recordings: found, measured in parallel, kept in a journal, looked at together."""
