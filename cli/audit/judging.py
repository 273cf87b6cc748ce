"""How a request wants reps judged: its risk, and what people's calls taught."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from cli.audit.kept import FIT, Kept
from cli.audit.objects import Objects
from cli.audit.request import AuditRequest
from counting.body.kept import KeptFits
from counting.checks.coverage import judge_or_count
from counting.checks.films import OtherFilm
from counting.checks.judge import StatureOf
from counting.checks.ruler import stature_by_plates
from counting.checks.stature import ASSUMED, Stature, given
from counting.checks.table import packaged_table
from counting.checks.tuning import TuningFile, decided_reps, tuned_table
from counting.checks.types import Judgement
from counting.decision.conformance import Risk
from counting.movements.types import Movement
from counting.record.assembly import Counted
from counting.record.types import TunedPart
from counting.reps.types import Rep
from vision.film.types import Film
from vision.track import PoseTrack


@dataclass(frozen=True, slots=True)
class Judging:
    """How sure a verdict must be, fits of earlier audits, and what people's calls taught.

    ``others`` are further films of the same attempt, ``films`` the files of all of them, the first
    one's first; ``stature`` is what is known of the athlete's height without looking; ``objects``
    are looked for in the first film.
    """

    risk: Risk
    fits: KeptFits
    tuned: TuningFile | None
    others: tuple[OtherFilm, ...] = ()
    films: tuple[Film, ...] = ()
    stature: Stature = ASSUMED
    objects: Objects | None = None

    def judge(self, track: PoseTrack, reps: Sequence[Rep], movement: Movement) -> Judgement:
        """Judge the reps of one movement."""
        table = None
        if self.tuned is not None:
            table = tuned_table(packaged_table(), self.tuned.tuning, movement)
        body = judge_or_count(
            track,
            reps,
            movement,
            self.risk,
            table,
            kept=self.fits,
            others=self.others,
            stature_of=self._stature_of(track, movement),
        )
        if self.objects is None:
            return body
        return self.objects.judged(body, reps, movement, self.risk)

    def _stature_of(self, track: PoseTrack, movement: Movement) -> StatureOf:
        if self.others and movement.apparatus == "barbell":
            tracks = (track, *(other.track for other in self.others))
            return partial(stature_by_plates, tracks=tracks, films=self.films, known=self.stature)
        return lambda _: self.stature

    def tuned_part(self, counted: Counted) -> TunedPart | None:
        """Name the file of people's calls, and how many reps they decided of what was done."""
        if self.tuned is None:
            return None
        movement_of = {rep.number: rep.movement for rep in counted.reps}
        done = {
            movement_of[judgement.verdicts[0].number]: judgement.view_deg
            for judgement in counted.judgements
            if judgement.verdicts
        }
        return TunedPart(sha256=self.tuned.sha256, reps=decided_reps(self.tuned.tuning, done))


def judging_of(
    request: AuditRequest,
    tuned: TuningFile | None = None,
    others: Sequence[OtherFilm] = (),
    films: Sequence[Film] = (),
    objects: Objects | None = None,
) -> Judging:
    """Take from a request how reps are judged, by further films of the same attempt as well."""
    return Judging(
        Risk(request.met_at_least, request.not_met_at_most),
        Kept(request.out, FIT),
        tuned,
        tuple(others),
        tuple(films),
        ASSUMED if request.height_m is None else given(request.height_m),
        objects,
    )
