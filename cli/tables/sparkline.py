"""A row of small bars that fits into a table cell."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

BLOCKS: Final = "▁▂▃▄▅▆▇█"
DIGITS: Final = "12345678"


def sparkline(
    values: Sequence[float],
    lowest: float,
    highest: float,
    *,
    width: int = 24,
    ascii_only: bool = False,
) -> str:
    """Draw one bar a value on the scale ``lowest`` to ``highest``; a space for NaN.

    Parameters
    ----------
    values
        Drawn left to right. More than ``width`` of them are drawn as the means of equal stretches.
    lowest, highest
        Ends of the scale, the same for all lines that are to be compared. Values beyond are
        drawn at the end of the scale.
    ascii_only
        Digits 1 to 8 instead of blocks, for terminals without Unicode.
    """
    bars = DIGITS if ascii_only else BLOCKS
    span = highest - lowest
    return "".join(_bar(value, lowest, span, bars) for value in _thinned(values, width))


def _bar(value: float, lowest: float, span: float, bars: str) -> str:
    if math.isnan(value):
        return " "
    share = (value - lowest) / span if span > 0 else 0.0
    return bars[min(max(int(share * len(bars)), 0), len(bars) - 1)]


def _thinned(values: Sequence[float], width: int) -> list[float]:
    count = len(values)
    if count <= width:
        return list(values)
    edges = [round(index * count / width) for index in range(width + 1)]
    return [sum(values[start:stop]) / (stop - start) for start, stop in pairwise(edges)]
