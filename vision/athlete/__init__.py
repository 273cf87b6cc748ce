"""Finding the athlete among everybody in a film, and reading their body."""
