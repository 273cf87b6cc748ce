"""A plan written down: its file, the card for the wall, and an attempt laid over it."""
