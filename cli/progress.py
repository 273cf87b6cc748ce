"""Progress with the time left, on the error stream and only where that is a terminal."""

from collections.abc import Iterator
from contextlib import contextmanager

from cli.audit.request import Progress, silent
from cli.terminal import console


@contextmanager
def film_progress() -> Iterator[Progress]:
    """Lend a callback that takes a stage's name, seconds of film done, and seconds in all.

    Each stage gets its own line with the film time done and the time left.
    """
    from rich.progress import BarColumn, TaskID, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bars

    screen = console(stderr=True)
    if not screen.is_terminal:
        yield silent
        return
    with Bars(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed:.0f} of {task.total:.0f} s of film"),
        TimeRemainingColumn(),
        console=screen,
        transient=True,
    ) as bars:
        tasks: dict[str, TaskID] = {}

        def show(stage: str, done_s: float, total_s: float) -> None:
            if stage not in tasks:
                tasks[stage] = bars.add_task(stage, total=max(total_s, 0.1))
            bars.update(tasks[stage], completed=done_s, total=max(total_s, 0.1))

        yield show
