"""What every room stands on and what knows nothing of sound: numbers, names, files, errors."""
