"""The demo's steps in order, and that its sample travels with the package.

What it leaves is looked at with the sample workouts, whose audit it makes.
"""

import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.commands import audit, demo, plan, report
from cli.main import app

ROOT = Path(__file__).parents[3]


@pytest.fixture
def called(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, Path]]:
    """The commands that the demo runs, each with what it was given first."""
    made: list[tuple[str, Path]] = []
    monkeypatch.setattr(audit, "audit", lambda film, **_: made.append(("audit", film)))
    monkeypatch.setattr(report, "report", lambda folder: made.append(("report", folder)))
    monkeypatch.setattr(plan, "plan", lambda workout, **_: made.append(("plan", workout)))
    return made


def test_the_demo_audits_reports_and_plans_in_its_own_folder(
    called: list[tuple[str, Path]], tmp_path: Path
) -> None:
    asked = ["demo", "--out", str(tmp_path / "demo"), "--no-desk", "--no-browser"]
    result = CliRunner().invoke(app, asked)
    assert result.exit_code == 0, result.output
    film = tmp_path / "demo" / f"{demo.SAMPLE}.mp4"
    assert called == [
        ("audit", film),
        ("report", film.with_suffix(".audit")),
        ("plan", film.with_suffix(".toml")),
    ]
    assert film.read_bytes() == (ROOT / "sample_clips" / film.name).read_bytes()
    assert "repwitness review" in result.output


def test_the_sample_is_part_of_the_package() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    included = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert {Path(source).name for source in included} == {
        f"{demo.SAMPLE}.mp4",
        f"{demo.SAMPLE}.toml",
    }
    assert all((ROOT / source).is_file() for source in included)
    assert {Path(target).parent for target in included.values()} == {Path("cli/samples")}
