"""A plan: its document, JSON and pictures, its page, and the record to sign."""
