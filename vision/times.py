"""How a time is written for people, the same everywhere."""


def clock(time_s: float | None, decimals: int = 1) -> str:
    """Write a time as ``m:ss.s``, or ``h:mm:ss.s`` from one hour on; a dash for None.

    Rounds to the nearest first, so that 59.97 s reads ``1:00.0`` and never ``0:60.0``.
    """
    if time_s is None:
        return "–"
    scale = 10**decimals
    ticks = round(abs(time_s) * scale)
    whole_s, fraction = divmod(ticks, scale)
    minutes, seconds = divmod(whole_s, 60)
    hours, minutes = divmod(minutes, 60)
    sign = "−" if time_s < 0 and ticks else ""
    tail = f".{fraction:0{decimals}d}" if decimals else ""
    if hours:
        return f"{sign}{hours}:{minutes:02d}:{seconds:02d}{tail}"
    return f"{sign}{minutes}:{seconds:02d}{tail}"
