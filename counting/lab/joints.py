"""How far joints are off, in reps of labelled films, by view.

    python -m counting.lab.joints CLIPS... --tracks DIR

compares landmark files, DIR/NAME.npz, with what is true: NAME/truth.json and NAME/frames.npz with
``t``, ``px`` in the film's pixels and ``joint_names``.
"""

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.checks.table import VIEWS, view_name
from counting.lab.calibrate import labelled_clips
from counting.lab.reading_errors import CHI_SQUARE_95
from vision.athlete.whereabouts import standing_px
from vision.pose.landmarks import Landmark
from vision.pose.movenet import JOINTS
from vision.track import PoseTrack, load_track

FloatArray = npt.NDArray[np.float64]

GROSS: Final = 0.1
"""Share of stature from which a joint is grossly wrong."""
SOMEBODY_ELSE: Final = 0.15
"""Share of stature by which the middle of hips or shoulders is off where another body is read."""
_LIMBS: Final = JOINTS[5:]
"""Joints without the face's five."""
_SHOULDERS, _HIPS = slice(0, 2), slice(6, 8)


@dataclass(frozen=True, slots=True)
class FilmJoints:
    """One film's limb joints in its reps, compared with the truth.

    Attributes
    ----------
    view
        Name of the view.
    gross, inside
        Shares of joints that are grossly wrong, and that lie inside their 95 % ellipse.
    median
        Median error, share of stature.
    followed
        Share of frames in which it is the athlete who is read; frames without a body are none.
    """

    view: str
    gross: float
    inside: float
    median: float
    followed: float


def compared(
    track: PoseTrack,
    time_s: FloatArray,
    true_px: FloatArray,
    reps: Sequence[tuple[float, float]],
    view: str,
) -> FilmJoints:
    """Compare a track with the truth.

    Parameters
    ----------
    time_s, true_px
        (N,) times and (N, 17, 2) true joints in the film's pixels.
    reps
        (start, end) of each, seconds.
    """
    stature_px = standing_px(true_px)
    inside = np.array([any(a <= t <= b for a, b in reps) for t in track.time_s])
    rows = np.flatnonzero(inside)
    nearest = np.abs(time_s[:, None] - track.time_s[rows]).argmin(axis=0)
    true, limbs = true_px[nearest, 5:], list(_LIMBS)
    off = track.image_px[rows][:, limbs] - true
    covariance = track.covariance_px2[rows][:, limbs]
    share = np.linalg.norm(off, axis=-1) / stature_px
    middles = [np.linalg.norm(off[:, pair].mean(axis=1), axis=-1) for pair in (_SHOULDERS, _HIPS)]
    here = np.max(middles, axis=0) < SOMEBODY_ELSE * stature_px
    seen = np.isfinite(share).all(axis=1)
    apart, ellipse = off[seen], np.linalg.inv(covariance[seen])
    square = np.einsum("...i,...ij,...j->...", apart, ellipse, apart)
    return FilmJoints(
        view=view,
        gross=float((share[seen] > GROSS).mean()),
        inside=float((square < CHI_SQUARE_95).mean()),
        median=float(np.median(share[seen])),
        followed=float(here.mean()),
    )


def read(clip: Path, landmarks: Path) -> FilmJoints | None:
    """Compare one film; None where its view has no name, it has no rep or nobody was read."""
    truth = json.loads((clip / "truth.json").read_text(encoding="utf-8"))
    reps = [(float(rep["start"]), float(rep["end"])) for rep in truth["reps"]]
    azimuth = abs((float(truth["camera"]["az"]) + 90.0) % 180.0 - 90.0)
    view, track = view_name(azimuth), load_track(landmarks)
    if view is None or not reps or not track.seen.any():
        return None
    with np.load(clip / "frames.npz") as labels:
        names = [str(name) for name in labels["joint_names"]]
        columns = [names.index(Landmark(joint).name.lower()) for joint in JOINTS]
        return compared(track, labels["t"], labels["px"][:, columns].astype(float), reps, view)


def report(films: Sequence[FilmJoints]) -> str:
    """Lay means over films out, one line a view."""
    lines = [f"{'view':<9}{'films':>6}{'gross':>8}{'median':>9}{'in ellipse':>12}{'followed':>10}"]
    for view in VIEWS:
        some = [film for film in films if film.view == view]
        if some:
            gross, median, inside, followed = (
                100.0 * float(np.mean([getattr(film, name) for film in some]))
                for name in ("gross", "median", "inside", "followed")
            )
            lines.append(
                f"{view:<9}{len(some):>6}{gross:>7.2f} %{median:>7.2f} %{inside:>10.1f} %"
                f"{followed:>8.2f} %"
            )
    return "\n".join(lines)


def main() -> None:
    """Compare the films that the command names."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clips", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    asked = parser.parse_args()
    pairs = [(clip, asked.tracks / f"{clip.name}.npz") for clip in labelled_clips(asked.clips)]
    films = [read(clip, file) for clip, file in pairs if file.exists()]
    print(report([film for film in films if film is not None]))


if __name__ == "__main__":
    main()
