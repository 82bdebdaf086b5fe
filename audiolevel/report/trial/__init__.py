"""A trial: its document, JSON and picture, with firings to hear."""
