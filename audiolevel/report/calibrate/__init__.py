"""A calibration: its document and JSON."""
