"""A measurement: its document, JSON and picture."""
