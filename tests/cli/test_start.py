import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.main import app

HEAVY = (
    *("numpy", "scipy", "cv2", "av", "mediapipe", "ai_edge_litert", "distributed", "starlette"),
    *("jinja2", "rich"),
)

SHOW_HELP = """
import sys
from cli.main import app
try:
    app(sys.argv[1:], prog_name="repwitness")
except SystemExit:
    pass
print("\\nLOADED", *(name for name in {heavy} if name in sys.modules))
"""


@pytest.mark.parametrize("asked", [["--help"], ["batch", "--help"]])
def test_help_is_shown_without_loading_what_looks_at_films(asked: list[str]) -> None:
    """Imports of these take most of the time a help page has: 0.3 s."""
    ran = subprocess.run(
        [sys.executable, "-c", SHOW_HELP.format(heavy=HEAVY), *asked],
        env={"PYTHONPATH": ":".join(sys.path), "PATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "Usage" in ran.stdout
    assert ran.stdout.rstrip().splitlines()[-1] == "LOADED"


def test_the_version_is_that_of_the_project_and_said_in_a_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text("utf-8"))
    with pytest.raises(SystemExit) as ended:
        app(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"repwitness {project['project']['version']}\n"


SLOW_TO_LOAD = (
    *("av", "cv2", "ai_edge_litert"),
    *("scipy.ndimage", "scipy.signal", "scipy.optimize", "scipy.stats"),
)


def test_kept_landmarks_are_judged_without_loading_what_looks_at_films() -> None:
    """These would take as long to load as a quarter of an hour of landmarks to be counted."""
    load = "import sys, cli.audit.run, cli.audit.assess"
    show = f"{load}; print(*set({SLOW_TO_LOAD}) & set(sys.modules))"
    ran = subprocess.run(
        [sys.executable, "-c", show],
        env={"PYTHONPATH": ":".join(sys.path), "PATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert not ran.stdout.strip()


def test_the_package_runs_as_the_program_does() -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "cli", "audit", "missing.mp4"],
        env={"PYTHONPATH": ":".join(sys.path), "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode in (2, 3)
    assert ran.stderr.startswith("repwitness: ") or "Usage" in ran.stderr
    assert "Traceback" not in ran.stderr


ELSEWHERE = """
import sys
for name in ("fcntl", "resource"):
    sys.modules[name] = None  # as on Windows
sys.argv = ["repwitness", *sys.argv[1:]]
from cli.main import run
run()
"""


@pytest.mark.parametrize("command", [["audit", "--movement", "thruster"], ["batch"]])
def test_a_system_that_is_not_supported_is_told_in_a_line(
    command: list[str], tmp_path: Path
) -> None:
    film = tmp_path / "film.mp4"
    film.write_bytes(b"a film")
    name, *options = command
    options += ["--out", str(tmp_path / "out"), "-m", "thruster"] if name == "batch" else []
    ran = subprocess.run(
        [sys.executable, "-c", ELSEWHERE, name, str(film), *options],
        env={"PYTHONPATH": ":".join(sys.path), "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ran.returncode, ran.stdout) == (3, "")
    assert ran.stderr.startswith("repwitness: runs on Linux")
    assert ran.stderr.count("\n") == 1


def test_every_commands_line_is_whole_on_eighty_columns() -> None:
    text = CliRunner(env={"COLUMNS": "80"}).invoke(app, ["--help"], terminal_width=80).output
    lines = text[text.index("Commands:") :].split("\n\n")[0].splitlines()[1:]
    assert len(lines) > 15
    assert all(line.rstrip().endswith(".") and "..." not in line for line in lines)


@pytest.mark.parametrize(
    ("asked", "meant"), [(["audti"], "audit"), (["audit", "a.mp4", "--workuot", "w"], "--workout")]
)
def test_a_misspelt_command_or_option_is_answered_with_the_one_meant(
    asked: list[str], meant: str
) -> None:
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 2
    assert meant in done.output
