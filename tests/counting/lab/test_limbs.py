"""Learning where limbs lie: its gradient is that of the likelihood, and it finds what is there."""

import numpy as np
import pytest
from scipy.stats import multivariate_t

from counting.lab.limbs import Lessons, surprise, train, widening
from vision.pose.limbs import FREEDOM, outputs_of, scales_of


def some_outputs(count: int) -> np.ndarray:
    rng = np.random.default_rng(0)
    outputs = rng.normal(0.0, 0.5, (count, 15))
    outputs[:, 6:12] -= 4.0
    return outputs


def test_the_likelihood_is_students() -> None:
    """SciPy's multivariate t is the reference."""
    outputs = some_outputs(1)
    off = np.full((1, 3, 2), 0.01)
    said, error, slope = scales_of(outputs)
    log_density = 0.0
    for joint in range(3):
        one, two = error[0, joint]
        k = slope[0, joint]
        shape = np.array([[one**2, k * one * two], [k * one * two, (1 + k**2) * two**2]])
        law = multivariate_t(said[0, joint], shape, df=FREEDOM)
        log_density += float(law.logpdf(off[0, joint])) + np.log(2 * np.pi)
    assert surprise(outputs, off)[0] == pytest.approx(-log_density / 3)


def test_the_gradient_is_that_of_the_likelihood() -> None:
    """Central differences are the reference."""
    outputs, off = some_outputs(4), np.random.default_rng(1).normal(0.0, 0.02, (4, 3, 2))
    gradient = surprise(outputs, off)[1]
    step = 1e-6
    for place in np.ndindex(*outputs.shape):
        more, less = outputs.copy(), outputs.copy()
        more[place] += step
        less[place] -= step
        slope = (surprise(more, off)[0] - surprise(less, off)[0]) / (2 * step)
        assert gradient[place] == pytest.approx(slope, abs=1e-6)


@pytest.fixture(scope="module")
def lessons() -> Lessons:
    """Offsets that one number of the readings and one place of the outline say, and noise."""
    rng = np.random.default_rng(2)
    covered = (rng.random((6000, 20)) > 0.5).astype(np.float32)
    scalars = rng.normal(size=(6000, 55)).astype(np.float32)
    told = 0.02 * scalars[:, 0] + 0.02 * (covered[:, 3] - 0.5)
    off = told[:, None, None] + 0.002 * rng.standard_t(FREEDOM, (6000, 3, 2))
    return Lessons(covered, scalars, off.astype(np.float32))


@pytest.mark.slow
def test_what_readings_and_outline_say_is_learnt(lessons: Lessons) -> None:
    shown = Lessons(lessons.covered[:5000], lessons.scalars[:5000], lessons.off[:5000])
    aside = Lessons(lessons.covered[5000:], lessons.scalars[5000:], lessons.off[5000:])
    weights = train(shown, 60, np.random.default_rng(0))
    said = scales_of(outputs_of(weights, aside.covered, aside.scalars))[0]
    left = np.median(np.abs(aside.off - said)) / np.median(np.abs(aside.off))
    assert left < 0.4


def test_ellipses_are_widened_to_hold_what_they_say() -> None:
    """95 % of a bivariate t with four degrees of freedom lie within twice F(2, 4)'s 6.944."""
    rng = np.random.default_rng(4)
    bias = np.zeros(15, np.float32)
    bias[6:12] = np.log(0.01)
    weights = {
        "mean": np.zeros(2, np.float32),
        "spread": np.ones(2, np.float32),
        "w0": np.zeros((3, 4), np.float32),
        "b0": np.zeros(4, np.float32),
        "w1": np.zeros((6, 5), np.float32),
        "b1": np.zeros(5, np.float32),
        "w2": np.zeros((5, 4), np.float32),
        "b2": np.zeros(4, np.float32),
        "w3": np.zeros((4, 15), np.float32),
        "b3": bias,
    }
    off = multivariate_t(shape=0.01**2 * np.eye(2), df=FREEDOM, seed=rng).rvs((20000, 3))
    nothing = np.zeros((20000, 3), np.float32), np.zeros((20000, 2), np.float32)
    told = widening(weights, Lessons(*nothing, off.astype(np.float32)))
    assert told == pytest.approx(2 * 6.944 / 5.991, rel=0.03)
