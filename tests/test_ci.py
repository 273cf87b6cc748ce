"""The run that says whether the project is sound tests what users get and what is locked."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

STUB = """#!/bin/sh
echo "$(basename $(dirname $(dirname $0)))/$(basename $0) $*" >> "$CALLS"
case "$(basename $0) $*" in
  "pip freeze"*) printf '%s\\n' $FREEZE ;;
  pytest*) case "$0" in *$FAILS/bin*) exit 1 ;; esac ;;
esac
"""
PYTHON = """#!/bin/sh
[ "$2" = venv ] || exit 1
mkdir -p "$3/bin"
for name in pip pytest repwitness ruff mypy; do cp "$STUB" "$3/bin/$name"; done
"""


def run(folder: Path, *, installed: str, fails: str = "none") -> tuple[int, list[str]]:
    """Run it with stand-ins for Python and all it installs; give its status and their calls."""
    (folder / ".ci").mkdir()
    shutil.copy(ROOT / ".ci" / "run", folder / ".ci" / "run")
    shutil.copy(ROOT / "README.md", folder)
    (folder / "requirements.lock").write_text(
        "# a remark\n"
        "numpy==2.4.6 ; python_version < '4' \\\n    --hash=sha256:0\n"
        "back-ports-yaml==6.0 \\\n"
    )
    programs = folder / "programs"
    programs.mkdir()
    for name, text in {"python3": PYTHON, "stub": STUB, "id": "#!/bin/sh\necho 1000\n"}.items():
        (programs / name).write_text(text)
        (programs / name).chmod(0o755)
    calls = folder / "calls"
    ran = subprocess.run(
        [folder / ".ci" / "run"],
        env={
            "PATH": f"{programs}{os.pathsep}{os.defpath}",
            "CALLS": str(calls),
            "STUB": str(programs / "stub"),
            "FREEZE": installed,
            "FAILS": fails,
        },
        capture_output=True,
        check=False,
    )
    return ran.returncode, calls.read_text().splitlines()


def test_today_s_releases_are_tested_whole_and_the_locked_ones_where_they_differ(
    tmp_path: Path,
) -> None:
    status, calls = run(tmp_path, installed="numpy==2.5.0 Back.ports_YAML==6.0")
    assert status == 0
    tests = [call for call in calls if "/pytest" in call]
    assert [call.partition("/")[0] for call in tests] == [".venv", ".venv-locked"]
    assert "not slow" not in tests[0]
    assert "not slow" in tests[1]
    installs = [call for call in calls if call.startswith(".venv-locked/pip install")]
    assert "--require-hashes -r requirements.lock" in installs[0]
    assert "--no-deps" in installs[1]


def test_the_same_releases_are_not_tested_twice(tmp_path: Path) -> None:
    status, calls = run(tmp_path, installed="numpy==2.4.6 Back.ports_YAML==6.0")
    assert status == 0
    assert len([call for call in calls if "/pytest" in call]) == 1


@pytest.mark.parametrize("fails", [".venv", ".venv-locked"])
def test_it_fails_with_either(tmp_path: Path, fails: str) -> None:
    status, _ = run(tmp_path, installed="numpy==2.5.0", fails=fails)
    assert status != 0
