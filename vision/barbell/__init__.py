"""The barbell from the side, where its plates hide the hands that hold it."""
