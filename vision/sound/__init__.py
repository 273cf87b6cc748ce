"""The film's sound: reading it, and finding steady tones in it."""
