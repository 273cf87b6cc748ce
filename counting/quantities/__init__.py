"""Named quantities of a standard, read from the fitted body and the picture."""
