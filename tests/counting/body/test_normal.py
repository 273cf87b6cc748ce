"""Derivatives that are written out, against differences of the plain form."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.symmetric import place_points, project
from synthetic.world import play_in_metres

from counting.body.cameras import CAMERA, place
from counting.body.evidence import (
    LANDMARK_ERROR_M,
    gather_evidence,
    gather_view,
    guess_frames,
    guess_shared,
)
from counting.body.normal import BodyTerms
from counting.body.skeleton import G

FREE = [place for name, place in G.items() if name != "log_stature"]
SECOND = [place(name, 1) for name in CAMERA]
STEP = 1e-6


def made(base, *other_views_deg):
    """A body near, not at, its best fit, so that no derivative vanishes."""
    script = Script(standing())
    script.move(squat(1.0), 0.6).move(standing(), 0.6)
    tracks = [
        play_in_metres(script, Camera(view_deg=view_deg), rate_hz=5.0, noise=0.003)
        for view_deg in (50.0, *other_views_deg)
    ]
    evidence = gather_evidence(tracks[0], base, [gather_view(other) for other in tracks[1:]])
    rng = np.random.default_rng(1)
    guess = guess_shared(evidence)
    frames = guess_frames(evidence, guess)
    frames = frames + rng.normal(0.0, 0.03, frames.shape)
    shared = np.tile(guess + rng.normal(0.0, 0.02, guess.shape), (len(frames), 1))
    scale = np.full(len(frames), evidence.view.pixel_per_m)
    free = FREE if len(tracks) == 1 else [*FREE, *SECOND]
    return BodyTerms(evidence, scale, free), evidence, frames, shared, np.arange(len(frames))


def test_landmarks_are_missed_by_what_a_pinhole_camera_shows():
    terms, evidence, frames, shared, rows = made("standing")
    misses = terms.landmark_misses(frames, shared, rows)
    points = place_points(frames, shared[0], evidence.proportions)
    apart = project(points, shared[0], evidence.view.centre_px) - evidence.view.picture_px
    error_px = LANDMARK_ERROR_M * evidence.view.pixel_per_m
    expected = apart * evidence.view.weight[:, :, None] / error_px
    assert misses == pytest.approx(expected.transpose(2, 1, 0))


@pytest.mark.parametrize(
    ("base", "free", "others_deg"),
    [
        ("standing", FREE, ()),
        ("hanging", FREE, ()),
        ("floor", FREE, ()),
        ("standing", [*FREE, *SECOND], (-40.0,)),
    ],
)
def test_the_gradient_is_the_slope_of_the_cost(base, free, others_deg):
    terms, _, frames, shared, rows = made(base, *others_deg)
    normal = terms.normal(frames, shared, rows)

    def slope(moved_frames, moved_shared):
        ahead = terms.cost(frames + moved_frames, shared + moved_shared, rows)
        behind = terms.cost(frames - moved_frames, shared - moved_shared, rows)
        return (ahead - behind) / (2 * STEP) / 2

    for unknown in range(frames.shape[1]):
        moved = np.zeros_like(frames)
        moved[:, unknown] = STEP
        assert normal.gradient[unknown] == pytest.approx(slope(moved, 0.0), rel=1e-4, abs=2e-3)
    for unknown in free:
        moved = np.zeros_like(shared)
        moved[:, unknown] = STEP
        expected = slope(0.0, moved)
        assert normal.shared_gradient[unknown] == pytest.approx(expected, rel=1e-4, abs=2e-2)


@pytest.mark.parametrize("base", ["standing", "hanging", "floor"])
def test_the_matrix_is_that_of_gauss_and_newton(base):
    """What landmarks add to what else is known of a body: the weighted squares of their slopes."""
    terms, evidence, frames, shared, rows = made(base)
    joined = np.concatenate([frames, shared], axis=1)
    unknowns = frames.shape[1]

    def misses(values):
        seen = terms.landmark_misses(values[:, :unknowns], values[:, unknowns:], rows)
        return seen.reshape(-1, len(rows))

    chosen = [*range(unknowns), *(unknowns + free for free in FREE)]
    slopes = []
    for unknown in chosen:
        moved = np.zeros_like(joined)
        moved[:, unknown] = STEP
        slopes.append((misses(joined + moved) - misses(joined - moved)) / (2 * STEP))
    weight = 1 / (1 + misses(joined) ** 2 / 9)
    expected = np.einsum("pn,ipn,jpn->ijn", weight, slopes, slopes)
    unseen = replace(evidence.view, weight=np.zeros_like(evidence.view.weight))
    scale = np.full(len(frames), evidence.view.pixel_per_m)
    blind = BodyTerms(replace(evidence, view=unseen), scale, FREE)
    with_landmarks, without = (
        matrix(one.normal(frames, shared, rows), unknowns) for one in (terms, blind)
    )
    assert with_landmarks - without == pytest.approx(expected, rel=1e-4, abs=1.0)


def matrix(normal, unknowns):
    """Lay the normal equations out whole, (unknowns, unknowns, N)."""
    whole = np.zeros((unknowns + len(FREE), unknowns + len(FREE), normal.gradient.shape[1]))
    for (i, j), values in normal.blocks.items():
        whole[i, j] = whole[j, i] = values
    for at, free in enumerate(FREE, unknowns):
        whole[:unknowns, at] = whole[at, :unknowns] = normal.border[:, free]
    whole[unknowns:, unknowns:] = normal.shared[np.ix_(FREE, FREE)]
    return whole
