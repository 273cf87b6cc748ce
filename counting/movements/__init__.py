"""Movement standards: data files, their types and their loader."""
