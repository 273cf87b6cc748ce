"""Derivatives that are written out, against differences of the plain form."""

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.symmetric import place_points, project
from synthetic.world import play_in_metres

from counting.body.evidence import LANDMARK_ERROR_M, gather_evidence, guess_frames, guess_shared
from counting.body.normal import BodyTerms
from counting.body.skeleton import GLOBALS, G

FREE = [name for name in GLOBALS if name != "log_stature"]
STEP = 1e-6


def made(base, view_deg=50.0):
    """A body near, not at, its best fit, so that no derivative vanishes."""
    script = Script(standing())
    script.move(squat(1.0), 0.6).move(standing(), 0.6)
    track = play_in_metres(script, Camera(view_deg=view_deg), rate_hz=5.0, noise=0.003)
    evidence = gather_evidence(track, base)
    rng = np.random.default_rng(1)
    guess = guess_shared(evidence)
    frames = guess_frames(evidence, guess)
    frames = frames + rng.normal(0.0, 0.03, frames.shape)
    shared = np.tile(guess + rng.normal(0.0, 0.02, guess.shape), (len(frames), 1))
    scale = np.full(len(frames), evidence.pixel_per_m)
    return BodyTerms(evidence, scale, FREE), evidence, frames, shared, np.arange(len(frames))


def test_landmarks_are_missed_by_what_a_pinhole_camera_shows():
    terms, evidence, frames, shared, rows = made("standing")
    misses = terms.landmark_misses(frames, shared, rows)
    points = place_points(frames, shared[0], evidence.proportions)
    apart = project(points, shared[0], evidence.centre_px) - evidence.picture_px
    error_px = LANDMARK_ERROR_M * evidence.pixel_per_m
    expected = apart * evidence.weight[:, :, None] / error_px
    assert misses == pytest.approx(expected.transpose(2, 1, 0))


@pytest.mark.parametrize("base", ["standing", "hanging", "floor"])
def test_the_gradient_is_the_slope_of_the_cost(base):
    terms, _, frames, shared, rows = made(base)
    normal = terms.normal(frames, shared, rows)

    def slope(moved_frames, moved_shared):
        ahead = terms.cost(frames + moved_frames, shared + moved_shared, rows)
        behind = terms.cost(frames - moved_frames, shared - moved_shared, rows)
        return (ahead - behind) / (2 * STEP) / 2

    for unknown in range(frames.shape[1]):
        moved = np.zeros_like(frames)
        moved[:, unknown] = STEP
        assert normal.gradient[unknown] == pytest.approx(slope(moved, 0.0), rel=1e-4, abs=2e-3)
    for name in FREE:
        moved = np.zeros_like(shared)
        moved[:, G[name]] = STEP
        expected = slope(0.0, moved)
        assert normal.shared_gradient[G[name]] == pytest.approx(expected, rel=1e-4, abs=2e-2)


@pytest.mark.parametrize("base", ["standing", "hanging", "floor"])
def test_the_matrix_is_that_of_gauss_and_newton(base):
    """Of the landmarks alone: the weighted squares of their slopes."""
    terms, _, frames, shared, rows = made(base)
    joined = np.concatenate([frames, shared], axis=1)
    unknowns = frames.shape[1]

    def misses(values):
        seen = terms.landmark_misses(values[:, :unknowns], values[:, unknowns:], rows)
        return seen.reshape(-1, len(rows))

    chosen = [*range(unknowns), *(unknowns + G[name] for name in FREE)]
    slopes = []
    for unknown in chosen:
        moved = np.zeros_like(joined)
        moved[:, unknown] = STEP
        slopes.append((misses(joined + moved) - misses(joined - moved)) / (2 * STEP))
    weight = 1 / (1 + misses(joined) ** 2 / 9)
    expected = np.einsum("pn,ipn,jpn->ijn", weight, slopes, slopes)
    normal = terms.landmark_normal(frames, shared, rows)
    found = np.zeros_like(expected)
    for (i, j), values in normal.blocks.items():
        found[i, j] = found[j, i] = values
    place = {G[name]: unknowns + at for at, name in enumerate(FREE)}
    for s, at in place.items():
        found[:unknowns, at] = found[at, :unknowns] = normal.border[:, s]
    free = list(place)
    found[unknowns:, unknowns:] = normal.shared[np.ix_(free, free)]
    assert found == pytest.approx(expected, rel=1e-4, abs=1.0)
