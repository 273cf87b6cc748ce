"""A whole workout: its file, the clock, following the athlete through it, score and splits."""
