"""People's calls on rendered films: whoever calls by the drawn truth teaches what was shifted."""

import numpy as np
import pytest

from counting.checks.inference import Posterior, met_given_error
from counting.checks.table import packaged_table, view_name
from counting.checks.tuning import TunedGroup, entries_of
from counting.lab.calibrate import READINGS
from counting.lab.held_out import infer_sample
from counting.lab.readings import FilmSamples, Sample, load_readings, margins_of
from counting.movements.loader import find_movement
from counting.review.learning import ERRORS, DecidedReps, learn_group

MOVEMENT = find_movement("air squat")
VIEW = "front"
SHIFT_CM = 4.0


def inferred(sample: Sample, column: int) -> Posterior | None:
    return infer_sample(sample, MOVEMENT, packaged_table(), column, len(MOVEMENT.checks))


def samples_of(film: FilmSamples) -> list[Sample]:
    by_name = {sample.check.name: sample for sample in film.samples}
    return [by_name[check.name] for check in MOVEMENT.checks]


@pytest.fixture(scope="module")
def films() -> list[FilmSamples]:
    return [
        film
        for film in load_readings(READINGS)
        if film.movement == MOVEMENT.name
        and film.samples
        and view_name(samples_of(film)[0].view_deg) == VIEW
    ]


def learnt(films: list[FilmSamples], shift_cm: float) -> TunedGroup:
    """Learn from all reps of which everything was read, depth read too high by a shift."""
    known = [
        [one for k, s in enumerate(samples_of(film)) if (one := inferred(s, k)) is not None]
        for film in films
    ]
    rows: list[tuple[int, int]] = []
    for number, (film, posteriors) in enumerate(zip(films, known, strict=True)):
        assert len(posteriors) == len(MOVEMENT.checks)
        read = sum(one.reading for one in posteriors)
        read = read + sum(sample.rep_truth for sample in samples_of(film))
        rows += [(number, int(rep)) for rep in np.flatnonzero(np.isfinite(read))]
    entries, table = entries_of(MOVEMENT), packaged_table()
    met, scale, good = [], [], np.ones(len(rows), bool)
    for k, check in enumerate(MOVEMENT.checks):
        of_rep = [(known[film][k], rep) for film, rep in rows]
        values = np.array([p.reading[rep] for p, rep in of_rep])
        own = np.array([p.own_error[rep] for p, rep in of_rep])
        common = float(np.median([p.film_error[rep] for p, rep in of_rep]))
        entry = table.entries[entries[check.name]]
        shifted = values + (shift_cm if check.name == "depth" else 0.0)
        met.append(met_given_error(shifted, own, common * ERRORS, entry.before, check.limit,
                                   check.relation, len(MOVEMENT.checks)))  # fmt: skip
        scale.append(common)
        truth = np.array([samples_of(films[film])[k].rep_truth[rep] for film, rep in rows])
        good &= margins_of(truth, check) >= 0
    decided = DecidedReps(
        entries=tuple(entries[check.name] for check in MOVEMENT.checks),
        film=np.array([film for film, _ in rows]),
        good=good,
        met=np.array(met),
        scale=np.array(scale),
    )
    return learn_group(MOVEMENT.name, VIEW, decided)


def test_a_shift_of_all_readings_is_found_and_nothing_where_there_is_none(
    films: list[FilmSamples],
) -> None:
    plain, shifted = learnt(films, 0.0), learnt(films, SHIFT_CM)
    assert plain.reps == shifted.reps >= 20
    depth = [group.errors[0].offset for group in (plain, shifted)]
    assert abs(depth[0]) < 1.5
    assert SHIFT_CM / 4 < depth[1] - depth[0] < 1.25 * SHIFT_CM
    assert shifted.slips < 0.2
