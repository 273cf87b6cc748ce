"""Measuring the tool against labelled films."""
