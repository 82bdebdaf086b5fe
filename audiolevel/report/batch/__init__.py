"""A batch: its document, the record of each recording, tables and pictures."""
