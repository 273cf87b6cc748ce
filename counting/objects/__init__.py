"""Criteria that an object beside the body decides."""
