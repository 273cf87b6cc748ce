"""Decisions under uncertainty: from a value and its uncertainty to a verdict and a count."""
