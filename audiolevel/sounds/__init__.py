"""Wanted sounds: catalogue, synthesis, propagation, arrival at the microphone, and detection."""
