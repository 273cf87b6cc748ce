"""What stated probabilities are worth on bodies that the packaged table has not seen.

    python -m counting.lab.worth CLIPS_DIR... --tracks DIR [--out TABLE]

Films are counted and judged as users' films are, but for the correction itself, and each check's
probability is laid beside what was true. The correction chosen from that (`correction.fewest_open`)
takes the place of the packaged one: the table's errors may be right and yet all that is built on
them too careful. Beside it stands what likelihood would choose.
"""

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from counting.checks.table import CalibrationTable, packaged_table, write_table
from counting.decision.conformance import Risk
from counting.decision.reliability import AS_STATED, Reliability
from counting.lab.body_truth import BodyTruth, films_with_landmarks
from counting.lab.correction import fewest_open
from counting.lab.held_out import judged_reps
from counting.lab.reliability import learn_reliability
from counting.lab.verdict_tables import JudgedCheck, JudgedRep
from vision.track import PoseTrack


def stated_reps(
    films: Sequence[tuple[BodyTruth, PoseTrack]], table: CalibrationTable
) -> list[tuple[str, JudgedRep]]:
    """All reps, with the film's body, judged without a correction."""
    plain = replace(table, reliability=AS_STATED)
    return [
        (film.body, rep) for film, track in films for rep in judged_reps(film, track, Risk(), plain)
    ]


def stated_checks(reps: Sequence[JudgedRep]) -> list[JudgedCheck]:
    """All checks of these reps that could be read."""
    return [check for rep in reps for check in rep.checks if np.isfinite(check.value)]


def worth_of(checks: Sequence[JudgedCheck]) -> Reliability:
    """Learn the correction from checks beside their truth."""
    return learn_reliability(
        [check.probability_met for check in checks], [check.true_margin >= 0 for check in checks]
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Learn the correction, also with each body left out, and write the table that has it."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.worth", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    parser.add_argument("--out", type=Path, help="where to write the table")
    options = parser.parse_args(arguments)
    films = list(films_with_landmarks(options.folders, options.tracks))
    table = packaged_table()
    reps = stated_reps(films, table)
    unread = 1.0 - min(entry.miss_share for entry in table.entries.values())

    def chosen(some: Sequence[JudgedRep]) -> Reliability:
        return fewest_open(some, Risk(), table.shared_error, unread)

    bodies = sorted({body for body, _ in reps})
    for left_out in bodies:
        found = chosen([rep for body, rep in reps if body != left_out])
        print(f"without {left_out:<10} log odds {found.shift:+.2f} + {found.slope:.2f} x stated")
    every = [rep for _, rep in reps]
    likely = worth_of(stated_checks(every))
    print(f"by likelihood      log odds {likely.shift:+.2f} + {likely.slope:.2f} x stated")
    found = chosen(every)
    print(f"{len(every)} reps: log odds {found.shift:+.2f} + {found.slope:.2f} x stated")
    if options.out is not None:
        entries_from = table.made_from.split(";")[0]
        made_from = f"{entries_from}; worth by {len(films)} films of {len(bodies)} bodies"
        write_table(replace(table, reliability=found, made_from=made_from), options.out)


if __name__ == "__main__":
    main()
