"""The pacing model measured against simulated athletes whose truth is known."""
