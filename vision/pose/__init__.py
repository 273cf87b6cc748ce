"""Landmarks of one person in one picture."""
