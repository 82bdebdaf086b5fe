"""The camera's own log against its plan: what was read, what is known now, what to set."""
