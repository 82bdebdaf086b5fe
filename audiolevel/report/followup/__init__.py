"""A follow-up: its document, JSON and pictures."""
