"""The built-in sounds: their document and JSON."""
