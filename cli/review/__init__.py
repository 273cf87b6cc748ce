"""The review desk: a local web page on which people decide what the film could not."""
