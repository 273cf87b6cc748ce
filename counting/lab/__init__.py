"""What only developers run: calibration, and measuring the tool against labelled films."""
