"""``python -m cli``: the program, where its command is not on the path."""

from cli.main import run

run()
