"""List every string that a user can see: ``python -m tests.words``, with words to look for."""

import sys

from tests.words.strings import visible_strings


def main() -> None:
    """Print the strings, or those that hold one of the arguments."""
    wanted = [word.lower() for word in sys.argv[1:]]
    for seen in visible_strings():
        if not wanted or any(word in seen.text.lower() for word in wanted):
            print(f"{seen.file}:{seen.line}: {seen.text}")


if __name__ == "__main__":
    main()
