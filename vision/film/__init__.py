"""Reading a film: its facts, its frames and their presentation times."""
