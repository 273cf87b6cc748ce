"""The lock file: every dependency, pinned, with digests, and nothing of one machine."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")
PINS = re.findall(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", LOCK, re.MULTILINE)
PINNED = {canonicalize_name(name) for name, _ in PINS}


def wanted() -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [need for needs in project["optional-dependencies"].values() for need in needs]
    return [need for need in project["dependencies"] + extras if "repwitness" not in need]


@pytest.mark.parametrize("need", wanted())
def test_each_dependency_is_pinned_to_a_version_it_allows(need: str) -> None:
    requirement = Requirement(need)
    name = canonicalize_name(requirement.name)
    versions = [version for pinned, version in PINS if canonicalize_name(pinned) == name]
    assert versions, f"{requirement.name} is not in requirements.lock: make it again"
    assert all(requirement.specifier.contains(version) for version in versions)


def test_each_pin_has_digests() -> None:
    blocks = re.split(r"^(?=[A-Za-z0-9._-]+==)", LOCK, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(PINS)
    for block in blocks:
        assert re.search(r"--hash=sha256:[0-9a-f]{64}\b", block), block.splitlines()[0]


def test_no_address_or_path_is_in_it() -> None:
    assert not re.search(r"https?:|file:|--index|--find-links|/opt|/home", LOCK)


def test_each_pin_has_a_licence_listed() -> None:
    listed = set(
        re.findall(r"^\| ([a-z0-9._-]+) \|", (ROOT / "LICENSES.md").read_text("utf-8"), re.M)
    )
    assert {canonicalize_name(name) for name in listed} >= PINNED


def test_it_says_how_it_is_made() -> None:
    remark = "".join(line.lstrip("#\\ ") for line in LOCK.splitlines() if line.startswith("#"))
    assert "uv pip compile pyproject.toml --all-extras --universal" in remark
    assert "--generate-hashes" in remark
