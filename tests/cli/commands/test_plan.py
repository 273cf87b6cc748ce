"""``repwitness plan``: files, terminal card, overlay, and one line for each thing that is wrong."""

import json
import re

import msgspec
import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from cli.card.page import details_page, plan_page
from cli.commands import plan as command
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.pacing.card.document import load_plan
from counting.pacing.measure.simulate import shown_attempt
from counting.pacing.search.course import Course, Station
from counting.pacing.search.plan import uniform_plan
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.types import (
    CountsPart,
    RepPart,
)
from tests.counting.pacing.athletes import usual_athlete
from tests.records import bare_record

WORKOUT = """
name = "Boathouse steps"
scoring = "for time"
missing_reps = "stop the count"
time_cap_s = 150

[tie_break]
block = 1

[[blocks]]
rounds = 2
[[blocks.stations]]
movement = "thruster"
reps = 4
[[blocks.stations]]
movement = "pull-up"
reps = 5

[[blocks]]
[[blocks.stations]]
movement = "bar muscle-up"
reps = 4
"""

STATIONS = (
    Station("thruster", 4, 1, 1, 1),
    Station("pull-up", 5, 1, 1, 2),
    Station("thruster", 4, 1, 2, 1),
    Station("pull-up", 5, 1, 2, 2),
    Station("bar muscle-up", 4, 2, 1, 1),
)


def record_of(attempt):
    """Write a simulated attempt as the audit of a film."""
    reps = [
        RepPart(
            number=number,
            set=rep.set_number,
            movement=rep.movement,
            start_s=rep.start_s,
            turn_s=0.5 * (rep.start_s + rep.end_s),
            counted_s=None if rep.gave_out else rep.end_s,
            end_s=rep.end_s,
            verdict="no-rep" if rep.gave_out else "good",
            probability_good=0.01 if rep.gave_out else 0.99,
            checks=[],
            block=rep.place[0],
            round=rep.place[1],
            station=rep.place[2],
        )
        for number, rep in enumerate(attempt.reps, start=1)
    ]
    return bare_record(
        reps,
        file="steps.mp4",
        start_s=0.0,
        counts=CountsPart(good=0, no_rep=0, too_close=0, lowest=0, highest=len(reps)),
    )


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan")
    (folder / "steps.toml").write_text(WORKOUT, encoding="utf-8")
    course = Course("steps", STATIONS, 150.0, True)
    athlete = usual_athlete(course.movements, "linear")
    attempt = shown_attempt(
        athlete, course, uniform_plan(course, {"pull-up": (3, 2)}, 5.0), np.random.default_rng(0)
    )
    (folder / "steps.audit").mkdir()
    (folder / "steps.audit" / "audit.json").write_text(
        record_json(sealed(record_of(attempt))), encoding="utf-8"
    )
    return folder


def run(*arguments):
    app = typer.Typer(pretty_exceptions_enable=False)
    app.callback()(lambda: None)
    app.command(help=command.HELP)(command.plan)
    result = CliRunner().invoke(app, ["plan", *map(str, arguments)])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture(scope="module")
def planned(place):
    out = place / "out"
    audit = place / "steps.audit"
    result = run("--workout", place / "steps.toml", "--from", audit, "--out", out)
    return result, out


def test_a_card_is_printed_and_the_files_are_written(planned):
    result, out = planned
    assert result.exit_code == 0
    for word in (
        "Boathouse steps",
        "If behind",
        "On a bad day",
        "Warm-up",
        "tie-break",
        "Warm up",
        "No trial",
    ):
        assert word in result.stdout
    assert sorted(file.name for file in out.iterdir()) == [
        "card.html",
        "details.html",
        "plan.json",
        "plan.svg",
    ]


def test_the_plan_covers_the_workout_and_names_its_film(planned):
    document = load_plan(planned[1])
    assert [row.reps for row in document.rows] == [4, 5, 4, 5, 4]
    assert document.made_from == ["steps.mp4"]


def test_an_attempt_is_laid_over_the_plan(place, planned):
    result = run("--check", place / "steps.audit", planned[1])
    assert result.exit_code == 0
    assert "Lost here" in result.stdout
    assert "against the plan of Boathouse steps" in result.stdout
    rows = json.loads(run("--check", place / "steps.audit", planned[1], "--json").stdout)
    assert [row["movement"] for row in rows][:2] == ["thruster", "pull-up"]
    assert rows[0]["done_s"] is not None


def test_a_typed_capacity_is_enough_and_json_is_alone_on_stdout(place):
    result = run(
        "--workout",
        place / "steps.toml",
        "--unbroken",
        "bar muscle-up=6",
        "--json",
        "--out",
        place / "typed",
        "--target",
        "2:00",
    )
    document = json.loads(result.stdout)
    assert document["typed"] == ["bar muscle-up: 6 unbroken"]
    assert document["target"] == "all reps within 2:00"


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        ([], WRONG_USAGE, "--workout"),
        (["--workout", "WORKOUT"], WRONG_USAGE, "--from AUDIT"),
        (["--workout", "WORKOUT", "--unbroken", "bar muscle-up"], WRONG_USAGE, "bar muscle-up=6"),
        (["--workout", "WORKOUT", "--unbroken", "pull-up=0"], WRONG_USAGE, "reps"),
        (["--workout", "WORKOUT", "--unbroken", "ring row=5"], WRONG_USAGE, "ring row"),
        (
            ["--workout", "WORKOUT", "--unbroken", "pull-up=9", "--target", "900"],
            WRONG_USAGE,
            "from 1 to 22",
        ),
        (
            ["--workout", "WORKOUT", "--unbroken", "pull-up=9", "--target", "99:00"],
            WRONG_USAGE,
            "within the time cap",
        ),
        (["--workout", "WORKOUT", "--unbroken", "deadlift=9"], BAD_INPUT, "nothing is known"),
        (["--workout", "none.toml", "--unbroken", "pull-up=9"], BAD_INPUT, "none.toml"),
        (["--workout", "WORKOUT", "--from", "none.audit"], BAD_INPUT, "none.audit"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(place, arguments, status, words):
    given = [str(place / "steps.toml") if item == "WORKOUT" else item for item in arguments]
    with pytest.raises(UserError, match=words) as told:
        run(*given)
    assert told.value.exit_status == status
    assert "\n" not in str(told.value)


def test_a_folder_that_cannot_be_written_is_named(place):
    (place / "file").write_text("", encoding="utf-8")
    with pytest.raises(UserError, match="cannot be written"):
        run(
            "--workout",
            place / "steps.toml",
            "--unbroken",
            "pull-up=9",
            "--out",
            place / "file" / "below",
        )


@pytest.mark.slow
def test_an_athletes_file_is_enough_and_notes_the_films_given(place, tmp_path):
    file = tmp_path / "bow.toml"
    file.write_text("# Mine.\n[movements.pull-up]\nunbroken = 9\n", encoding="utf-8")
    workout = place / "steps.toml"
    run("--workout", workout, "--athlete", file, "--json", "--out", tmp_path / "first")
    assert "films" not in file.read_text(encoding="utf-8")
    audit = place / "steps.audit"
    for _ in range(2):
        run("--workout", workout, "--athlete", file, "--from", audit, "--out", tmp_path / "second")
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# Mine.")
    assert text.count("[[films]]") == 1
    result = run("--workout", workout, "--athlete", file, "--json", "--out", tmp_path / "third")
    assert json.loads(result.stdout)["made_from"] == ["steps.mp4"]


def test_a_capacity_may_name_its_load(place, tmp_path):
    arguments = ("--workout", place / "steps.toml", "--json", "--out", tmp_path / "heavy")
    result = run(*arguments, "--unbroken", "thruster@60=8")
    assert json.loads(result.stdout)["typed"] == ["thruster: 8 unbroken with 60 kg"]


@pytest.mark.parametrize("rounds", [2, 9, 40])
def test_the_card_prints_on_one_page(planned, page_of, rounds):
    document = load_plan(planned[1])
    first = document.rows[:4]
    rows = [
        msgspec.structs.replace(row, round=number, rounds=rounds, reps=row.reps + number)
        for number in range(1, rounds + 1)
        for row in first
    ]
    long = msgspec.structs.replace(document, rows=rows)
    page = page_of()
    page.set_content(plan_page(long))
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1


def test_nobody_is_kept_out_of_the_card(planned, page_of, barriers):
    document = load_plan(planned[1])
    for text in (plan_page(document), details_page(document)):
        page = page_of()
        page.set_content(text)
        assert barriers(page, both_schemes=True) == []
