"""How times, measured values and verdicts are written for people, the same everywhere."""

import os
from collections.abc import Sequence
from typing import Final

from msgspec import UNSET

from counting.decision.normal import NORMAL_95
from counting.record.types import AthletePart, CheckPart, RepPart, VersionsPart
from vision.times import clock

UNKNOWN: Final = "–"


def shown(name: str) -> str:
    """Make a file's name fit for a terminal, table or page: one line, odd characters escaped.

    A name is bytes to the system: what is no UTF-8 is escaped byte by byte.
    """
    text = os.fsencode(name).decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def on_clock(film_s: float, zero_s: float | None, decimals: int = 1) -> str:
    """Write a film time on the workout's clock; on the film's own where there is no start."""
    return clock(film_s - (zero_s or 0.0), decimals)


def moment(film_s: float, zero_s: float | None, decimals: int = 1) -> str:
    """Write a moment: ``1:05.3 (film 1:09.5)``, or the film's time alone where there is no start.

    Parameters
    ----------
    film_s
        Time on the film's clock, seconds.
    zero_s
        Where the workout's clock starts on the film's clock; None without one.
    """
    if not zero_s:
        return clock(film_s, decimals)
    return f"{on_clock(film_s, zero_s, decimals)} (film {clock(film_s, decimals)})"


_MOST_TIMES: Final = 5
"""Times that are told one by one: by eye, no source."""


def some_times(times_s: Sequence[float], zero_s: float | None = None) -> str:
    """List the first few times, and say how many more there are."""
    said = ", ".join(moment(time_s, zero_s) for time_s in times_s[:_MOST_TIMES])
    more = len(times_s) - _MOST_TIMES
    return f"{said} and {more} more" if more > 0 else said


def seconds(duration_s: float) -> str:
    """Write a duration: ``8.4 s`` below a minute, else ``2:05.3``."""
    return f"{duration_s:.1f} s" if abs(duration_s) < 59.95 else clock(duration_s)


def number(value: float, decimals: int) -> str:
    """Write a number with a true minus sign and no negative zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def measured(check: CheckPart) -> str:
    """Write a check's value with the interval that its call comes from: ``162° (156 to 168)``.

    No more digits are written than that interval carries.
    """
    if check.value is None:
        return "not read"
    mark, scale = unit_mark(check.unit), 100.0 if check.unit == "share" else 1.0
    if check.low is None or check.high is None:
        return f"{number(scale * check.value, 1)}{mark}"
    low, high = scale * check.low, scale * check.high
    decimals = 0 if high - low >= 5.9 else 1
    value = number(scale * check.value, decimals)
    return f"{value}{mark} ({number(low, decimals)} to {number(high, decimals)})"


def unit_mark(unit: str) -> str:
    """Give the sign that follows a number: ``°`` directly, others after a space."""
    return {"deg": "°", "share": " %"}.get(unit, f" {unit}")


def limit(check: CheckPart) -> str:
    """Write what the standard demands: ``0 cm or less``."""
    bound = 100 * check.limit if check.unit == "share" else check.limit
    decimals = 0 if float(bound).is_integer() else 1
    side = "or more" if check.relation == "at least" else "or less"
    return f"{number(bound, decimals)}{unit_mark(check.unit)} {side}"


def percent(probability: float) -> str:
    """Write a probability without ever claiming certainty that rounding made up."""
    if 0.995 <= probability < 1.0:
        return "> 99 %"
    if 0.0 < probability < 0.005:
        return "< 1 %"
    return f"{100 * probability:.0f} %"


def deciding_checks(rep: RepPart) -> list[CheckPart]:
    """Give the checks that keep a rep from being good, those surely not met first.

    Where each alone is met, but not surely all together, that is the least sure one.
    """
    ranked = sorted(rep.checks, key=lambda check: check.probability_met)
    unmet = [check for check in ranked if check.verdict != "met"]
    # What is not judged has no say where something else has; it is told once for all reps.
    unmet = [check for check in unmet if check.verdict != "not judged"] or unmet
    if unmet or rep.verdict == "good":
        return unmet
    return ranked[:1]


def check_sentence(check: CheckPart) -> str:
    """Say in one line what was measured and what the standard is, or why nothing was measured."""
    if check.value is None:
        return f"{check.name}: {check.reason or 'could not be measured'}"
    read = measured(check)
    return f"{check.name}: {check.quantity} {read}, standard: {limit(check)}"


def remark(rep: RepPart) -> str:
    """Give a rep's own reason where it says more than one of its checks already does."""
    if rep.reason is None:
        return ""
    said = any(check.reason and check.reason in rep.reason for check in rep.checks)
    return "" if said else rep.reason


def why(rep: RepPart) -> str:
    """Say why a rep is not good; empty for a good rep."""
    if rep.verdict == "good":
        return ""
    checks = deciding_checks(rep)
    if rep.verdict == "no-rep":
        checks = [check for check in checks if check.verdict == "not met"] or checks
    lines = [remark(rep), *(check_sentence(check) for check in checks)]
    return "; ".join(line for line in lines if line)


def tuned_words(versions: VersionsPart) -> str | None:
    """Say whose calls tuned the errors of a film; None where nobody's did."""
    if versions.tuned is None:
        return None
    if not versions.tuned.reps:
        return "not tuned: people have decided too few reps of this movement from this view"
    return f"tuned on {versions.tuned.reps} reps decided by people"


def visible_words(seen_share: float) -> str:
    """Say how much of the film shows the athlete."""
    if seen_share >= 0.9995:
        return "visible throughout"
    return f"visible in {min(100 * seen_share, 99.9):.1f} % of the film"


def height_words(athlete: AthletePart) -> str | None:
    """Say how tall the athlete is, 95 %, and who says so; None where it is only assumed."""
    source, height_m, u_m = (
        athlete.stature_source,
        athlete.stature_m,
        athlete.stature_uncertainty_m,
    )
    if source is UNSET or height_m is None or u_m is None:
        return None
    by = {"given": "as was told", "plates": "by the plates"}[source]
    return f"{height_m:.2f} m tall {by} (± {NORMAL_95 * u_m:.2f} m)"


def view_words(view_deg: float | None) -> str:
    """Name the side the camera looked from: 0 is the front, 90 a side, 180 the back."""
    if view_deg is None:
        return "view unknown"
    away = abs((view_deg + 180.0) % 360.0 - 180.0)
    if away < 15:
        return "from the front"
    if away < 75:
        return "between front and side"
    if away <= 105:
        return "from the side"
    if away <= 165:
        return "between side and back"
    return "from behind"
