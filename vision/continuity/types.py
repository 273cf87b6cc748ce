"""What an assessment of a film's continuity says."""

from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

from vision.times import clock

Source = Literal["picture", "motion", "sound", "timestamps"]
FindingKind = Literal[
    "cut",
    "doubled stretch",
    "frozen stretch",
    "missing stretch",
    "speed change",
    "timestamp jump",
    "sound break",
    "overlay change",
    "camera bump",
    "camera move",
    "athlete out of the picture",
    "hands out of the picture",
]

GAP_S: Final = 0.25
"""For so long one picture, or none, may stand (no source)."""
BREAKING_GAP_S: Final = 0.5
"""From here on something may have been left out meanwhile (no source)."""
SAME_PLACE_S: Final = 0.2
"""Findings that lie so close together are of one event (no source)."""
NOT_SHOWN: Final = (
    "playing backwards",
    "another speed throughout, or one changed by a whole number",
    "a cut at rest that leaves the athlete in place",
    "a stretch shown again that joins without a jump",
)
"""What was done to a film that looks continuous all the same, for people.

Falling would tell direction and speed, as it speeds up by 9.81 m/s2: but a body's lengths, and so
its metres, are known to some hundredths only, lifts and landings are driven by muscles either way,
and what falls freely, a dropped bar, is in few films and seen for a fifth of a second.
"""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One observation that speaks for a finding.

    Attributes
    ----------
    source
        What was looked at.
    words
        What was seen, for people.
    value, limit
        The measured value and the limit it lies beyond, both in ``unit``.
    unit
        Unit of both; "times" for a ratio.
    """

    source: Source
    words: str
    value: float
    limit: float
    unit: str


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that happens to the film between two presentation times.

    Attributes
    ----------
    kind
        What it is.
    start_s, end_s
        Its extent; a cut lies between two frames.
    breaks
        Whether it breaks the film: camera bumps and an athlete who leaves do not.
    evidence
        What was seen, strongest first.
    """

    kind: FindingKind
    start_s: float
    end_s: float
    breaks: bool
    evidence: tuple[Evidence, ...]

    @property
    def words(self) -> str:
        """One line such as ``cut at 3:12.4: the picture jumps``."""
        reasons = "; ".join(evidence.words for evidence in self.evidence)
        return f"{self.kind} at {clock(self.start_s)}: {reasons}"


@dataclass(frozen=True, slots=True)
class Continuity:
    """Result of looking for breaks in one film.

    Attributes
    ----------
    findings
        In film order.
    frames
        Pictures looked at.
    sound
        Whether sound could be looked at.
    """

    findings: tuple[Finding, ...]
    frames: int
    sound: bool

    @property
    def continuous(self) -> bool:
        """Whether nothing was found that breaks the film."""
        return not any(finding.breaks for finding in self.findings)

    @property
    def words(self) -> str:
        """``looks continuous``, or ``break at 3:12.4`` with every break's time."""
        times = [clock(finding.start_s) for finding in self.findings if finding.breaks]
        if not times:
            return "looks continuous"
        return ("break at " if len(times) == 1 else "breaks at ") + ", ".join(dict.fromkeys(times))

    def document(self) -> dict[str, Any]:
        """Plain lists and numbers, for the audit record."""
        return {
            "words": self.words,
            "continuous": self.continuous,
            "frames": self.frames,
            "sound": self.sound,
            "not_shown": list(NOT_SHOWN),
            "findings": [
                {**asdict(finding), "words": finding.words, "evidence": evidence_of(finding)}
                for finding in self.findings
            ],
        }


def evidence_of(finding: Finding) -> list[dict[str, Any]]:
    """Plain form of a finding's evidence."""
    return [asdict(evidence) for evidence in finding.evidence]
