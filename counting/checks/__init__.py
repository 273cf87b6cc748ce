"""A movement's checks on each repetition: value, uncertainty, probability, verdict."""
