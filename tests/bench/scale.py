"""What a worldwide round of submissions costs, and where the desk breaks first.

    python -m tests.bench.scale [--bench BENCH.json] [--seed 0]

Submissions arrive over a window with a rush before the deadline; each waits for a free core, then,
if reps are too close to call, for a free reviewer. Both queues are simulated film by film. Speeds
come from the bench's JSON where it is given; what cannot be measured here (bit rate, prices, how
long a person needs) is an assumption, printed with the table and open to change by option.
"""

import argparse
import heapq
import json
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from rich.console import Console
from rich.table import Table

FloatArray = npt.NDArray[np.float64]

HOUR_S = 3600.0
GIGA = 1e9


@dataclass(frozen=True, slots=True)
class Assumptions:
    """What the plan rests on; each field is an option of the command.

    Attributes
    ----------
    submissions, film_s
        How many films of which mean length; lengths vary by `film_spread` (standard deviation of
        their logarithm).
    window_h, rush_h, rush_share
        Submissions are open for `window_h`; `rush_share` of them come in the last `rush_h`.
    results_h
        Everything is to be decided so long after the deadline.
    film_s_per_core_s
        Seconds of film that one core audits in a second.
    film_bits_per_s
        Bit rate of a phone's 1080p30 film. Common practice, no source.
    landmark_bytes_per_s, record_bytes
        Size of what is kept of a film beside itself.
    reps, undecided_share
        Reps in a film and the share of them too close to call.
    film_look_s, rep_look_s
        What a person needs to open a film, and to call one rep. Common practice, no source.
    core_hour_price, gigabyte_month_price, reviewer_hour_price, kept_months
        In one currency. Orders of magnitude of public price lists, from memory.
    """

    submissions: int = 300_000
    film_s: float = 720.0
    film_spread: float = 0.25
    window_h: float = 96.0
    rush_h: float = 12.0
    rush_share: float = 0.5
    results_h: float = 24.0
    film_s_per_core_s: float = 1.7
    film_bits_per_s: float = 17e6
    landmark_bytes_per_s: float = 20e3
    record_bytes: float = 400e3
    reps: float = 150.0
    undecided_share: float = 0.24
    film_look_s: float = 20.0
    rep_look_s: float = 15.0
    core_hour_price: float = 0.04
    gigabyte_month_price: float = 0.02
    reviewer_hour_price: float = 25.0
    kept_months: float = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """One simulated round: (submissions,) arrays in order of arrival, seconds."""

    arrival_s: FloatArray
    film_s: FloatArray
    audit_s: FloatArray
    review_s: FloatArray


def draw(plan: Assumptions, seed: int) -> Round:
    """Draw one round: arrivals, lengths, work on a core and at the desk for each film."""
    chance = np.random.default_rng(seed)
    n = plan.submissions
    in_rush = chance.random(n) < plan.rush_share
    calm_s = (plan.window_h - plan.rush_h) * HOUR_S
    position = chance.random(n)
    arrival_s = np.where(in_rush, calm_s + position * plan.rush_h * HOUR_S, position * calm_s)
    middle = np.log(plan.film_s) - plan.film_spread**2 / 2
    film_s = chance.lognormal(middle, plan.film_spread, n)
    undecided = chance.binomial(
        chance.poisson(plan.reps * film_s / plan.film_s), plan.undecided_share
    )
    look_s = np.where(undecided > 0, plan.film_look_s + undecided * plan.rep_look_s, 0.0)
    order = np.argsort(arrival_s, kind="stable")
    return Round(arrival_s[order], film_s, film_s / plan.film_s_per_core_s, look_s)


def finish_times(arrival_s: FloatArray, work_s: FloatArray, servers: int) -> FloatArray:
    """Finish times of jobs served in order of arrival by equal servers.

    Parameters
    ----------
    arrival_s
        (N,) times of arrival, not decreasing.
    work_s
        (N,) service times.
    servers
        How many jobs are served at a time.
    """
    free = [0.0] * servers
    finished = np.empty_like(arrival_s)
    for job, (arrives, takes) in enumerate(zip(arrival_s.tolist(), work_s.tolist(), strict=True)):
        ends = max(arrives, free[0]) + takes
        heapq.heapreplace(free, ends)
        finished[job] = ends
    return finished


def servers_needed(arrival_s: FloatArray, work_s: FloatArray, deadline_s: float) -> int:
    """Fewest servers with which every job is finished by the deadline."""
    low, high = 0, 1
    while finish_times(arrival_s, work_s, high).max(initial=0.0) > deadline_s:
        low, high = high, 2 * high
        if low > arrival_s.size:
            raise ValueError("no number of servers is enough: the last job comes too late")
    while high - low > 1:
        middle = (low + high) // 2
        late = finish_times(arrival_s, work_s, middle).max() > deadline_s
        low, high = (middle, high) if late else (low, middle)
    return high


@dataclass(frozen=True, slots=True)
class Need:
    """What one resource costs the round, and what it takes to be done in time."""

    resource: str
    in_all: str
    in_time: str
    price: float


def needs(plan: Assumptions, seed: int) -> list[Need]:
    """Work out cores, bandwidth, storage and reviewers for a round."""
    drawn = draw(plan, seed)
    deadline_s = plan.window_h * HOUR_S
    # Half the time to the results for the cores, the rest for the people who depend on them.
    cores = servers_needed(drawn.arrival_s, drawn.audit_s, deadline_s + plan.results_h * HOUR_S / 2)
    audited_s = finish_times(drawn.arrival_s, drawn.audit_s, cores)
    order = np.argsort(audited_s, kind="stable")
    to_look = order[drawn.review_s[order] > 0]
    reviewers = servers_needed(
        audited_s[to_look], drawn.review_s[to_look], deadline_s + plan.results_h * HOUR_S
    )
    core_h = drawn.audit_s.sum() / HOUR_S
    look_h = drawn.review_s.sum() / HOUR_S
    film_gb = drawn.film_s.sum() * plan.film_bits_per_s / 8 / GIGA
    made_gb = (
        drawn.film_s.sum() * plan.landmark_bytes_per_s + plan.submissions * plan.record_bytes
    ) / GIGA
    by_hour, _ = np.histogram(
        drawn.arrival_s,
        bins=np.arange(0.0, plan.window_h + 1.0) * HOUR_S,
        weights=drawn.film_s * plan.film_bits_per_s,
    )
    months = plan.kept_months * plan.gigabyte_month_price
    return [
        Need(
            "cores",
            f"{core_h:,.0f} core-hours",
            f"{cores:,} cores",
            core_h * plan.core_hour_price,
        ),
        Need(
            "storage, films",
            f"{film_gb / 1000:,.0f} TB",
            f"{by_hour.max() / HOUR_S / GIGA:,.1f} Gbit/s in the fullest hour",
            film_gb * months,
        ),
        Need(
            "storage, landmarks and records",
            f"{made_gb / 1000:,.1f} TB",
            f"{made_gb / film_gb:.2%} of the films",
            made_gb * months,
        ),
        Need(
            "reviewers",
            f"{look_h:,.0f} hours, {to_look.size:,} films",
            f"{reviewers:,} people at a time",
            look_h * plan.reviewer_hour_price,
        ),
    ]


def delays(plan: Assumptions, seed: int, cores: Sequence[int]) -> list[tuple[int, float, float]]:
    """Give for each number of cores the median and the longest time from upload to result, h."""
    drawn = draw(plan, seed)
    table = []
    for count in cores:
        wait_s = finish_times(drawn.arrival_s, drawn.audit_s, count) - drawn.arrival_s
        table.append((count, float(np.median(wait_s)) / HOUR_S, float(wait_s.max()) / HOUR_S))
    return table


def main() -> None:
    """Print the plan for the assumptions given on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.scale")
    parser.add_argument("--bench", type=Path, help="JSON of the bench, for the measured speed")
    parser.add_argument("--seed", type=int, default=0)
    for field in fields(Assumptions):
        parser.add_argument(
            f"--{field.name.replace('_', '-')}", type=type(field.default), default=None
        )
    asked = vars(parser.parse_args())
    plan, bench, seed = Assumptions(), asked.pop("bench"), asked.pop("seed")
    if bench is not None:
        plan = replace(plan, **json.loads(bench.read_text())["scale"])
    plan = replace(plan, **{name: value for name, value in asked.items() if value is not None})
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = 120
    assumed = Table("assumption", "value", title="Assumptions", box=None, title_justify="left")
    for field in fields(plan):
        assumed.add_row(field.name, f"{getattr(plan, field.name):,g}")
    console.print(assumed)
    table = Table(title="\nWhat a round takes", box=None, title_justify="left")
    for heading in ("resource", "in all", "to be done in time", "price"):
        table.add_column(heading, justify="right" if heading == "price" else "left")
    for need in needs(plan, seed):
        table.add_row(need.resource, need.in_all, need.in_time, f"{need.price:,.0f}")
    console.print(table)
    waits = Table(title="\nFrom upload to result", box=None, title_justify="left")
    for heading in ("cores", "median, h", "longest, h"):
        waits.add_column(heading, justify="right")
    mean_cores = draw(plan, seed).audit_s.sum() / (plan.window_h * HOUR_S)
    for count, median_h, longest_h in delays(
        plan, seed, [max(1, round(mean_cores * times)) for times in (0.5, 1.0, 1.5, 2.0, 4.0)]
    ):
        waits.add_row(f"{count:,}", f"{median_h:,.1f}", f"{longest_h:,.1f}")
    console.print(waits)


if __name__ == "__main__":
    main()
