"""From a site recording to a microphone gain, a sound trigger and expected counts."""

__version__ = "0.1.0"
