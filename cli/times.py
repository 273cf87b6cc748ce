"""Times as people type them."""

import math
import re

from cli.errors import WRONG_USAGE, UserError

_CLOCK = re.compile(r"(?:(?:(\d+):)?(\d+):)?(\d+(?:\.\d+)?)")


def parse_time_s(text: str, option: str) -> float:
    """Read seconds, ``m:ss`` or ``h:mm:ss``, each with decimals, as seconds.

    Raises
    ------
    UserError
        The text is no such time; the message names ``option``.
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise UserError(
            f"{option}: '{text}' is not a valid time; write 83.5, 1:23.5 or 0:01:23.5", WRONG_USAGE
        )
    hours, minutes, seconds = (float(part) if part else 0.0 for part in match.groups())
    below_an_hour = minutes < 60.0 or match.group(1) is None
    if (match.group(2) is not None and seconds >= 60.0) or not below_an_hour:
        raise UserError(
            f"{option}: '{text}' has more than 59 minutes or seconds after a colon", WRONG_USAGE
        )
    total_s = 3600.0 * hours + 60.0 * minutes + seconds
    if not math.isfinite(total_s):
        raise UserError(f"{option}: '{text}' is too long", WRONG_USAGE)
    return total_s
