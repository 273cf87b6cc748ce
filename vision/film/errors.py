"""What goes wrong with films."""


class FilmError(ValueError):
    """A film that cannot be used; the message names the file, what is wrong and what to do."""
