"""What two films of the same reps say together, learnt and measured on labelled pairs.

    python -m counting.lab.pairs FOLDER... --tracks DIR [--learn]

Pairs are laid out as `counting.lab.labelled_pairs` says. With ``--learn`` the packaged table is
made from them, else they are judged by it and what went wrong is printed.
"""

import argparse
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Final

from counting.checks.table import Provenance
from counting.checks.together import (
    write_films_table,
)
from counting.lab.labelled_pairs import read_pairs
from counting.lab.pair_figures import report
from counting.lab.pair_learning import learn
from counting.lab.reading_code import landmark_digest, reading_digest

TABLE: Final = Path(str(files("counting.checks"))) / "films.json"


def main(arguments: Sequence[str] | None = None) -> None:
    """Learn from labelled pairs, or measure on them."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.pairs", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path, help="folders of labelled pairs")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    parser.add_argument("--learn", action="store_true", help="make the packaged table")
    parser.add_argument(
        "--leave-out", nargs="*", default=[], help="patterns of names of pairs kept for trials"
    )
    options = parser.parse_args(arguments)
    pairs = list(read_pairs(options.folders, options.tracks, options.leave_out))
    if options.learn:
        made_from = Provenance(
            f"{len(pairs)} labelled pairs of films",
            landmark_digest(),
            reading_digest(),
            {pair.name: pair.digest for pair in pairs},
        )
        write_films_table(learn(pairs, made_from), TABLE)
        return
    print(report(pairs))


if __name__ == "__main__":
    main()
