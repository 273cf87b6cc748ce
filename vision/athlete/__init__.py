"""Which person in the film is the athlete, from first frame to last."""
