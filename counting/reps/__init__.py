"""Cutting the film into repetitions."""
