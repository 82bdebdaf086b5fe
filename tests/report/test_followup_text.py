"""The words of a follow-up."""
