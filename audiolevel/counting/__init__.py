"""Firings per hour and per day: counts, tails, exposure, traffic, schedule, and their intervals."""
