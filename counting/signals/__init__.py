"""From landmarks to clean, evenly sampled signals in units of the athlete's own body."""
