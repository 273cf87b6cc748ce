"""Pages of a plan: the card for the wall, and what it rests on."""
