"""The audit record: the one document that every later step reads."""
