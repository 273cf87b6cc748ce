"""Two attempts side by side, rep by rep."""
