"""People's speech in what is recorded: how intelligible, from how far, how many minutes."""
