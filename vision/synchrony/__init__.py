"""Two films of one attempt on one clock: by their sound, then by how the body moves in both."""
