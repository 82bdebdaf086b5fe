"""A privacy review: its sheet, JSON and pictures."""
