"""What is believed of an athlete, and how work drains, slows and fails."""
