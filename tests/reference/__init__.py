"""Published values, transcribed once: a file a source."""
