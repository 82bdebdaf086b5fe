"""Levels of a recording: meter, statistics, onsets, level history, gain and calibration."""
