"""The lock file: every dependency, pinned, with digests, and nothing of the machine it was made on."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")
PINNED = {
    canonicalize_name(name): version
    for name, version in re.findall(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", LOCK, re.MULTILINE)
}


def wanted() -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [need for needs in project["optional-dependencies"].values() for need in needs]
    return [need for need in project["dependencies"] + extras if "repwitness" not in need]


@pytest.mark.parametrize("need", wanted())
def test_each_dependency_is_pinned_to_a_version_it_allows(need: str) -> None:
    requirement = Requirement(need)
    version = PINNED.get(canonicalize_name(requirement.name))
    assert version is not None, f"{requirement.name} is not in requirements.lock: make it again"
    assert requirement.specifier.contains(version)


def test_each_pin_has_digests() -> None:
    blocks = re.split(r"^(?=[A-Za-z0-9._-]+==)", LOCK, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(PINNED)
    for block in blocks:
        assert re.search(r"--hash=sha256:[0-9a-f]{64}\b", block), block.splitlines()[0]


def test_no_address_or_path_is_in_it() -> None:
    assert not re.search(r"https?:|file:|--index|--find-links|/opt|/home", LOCK)


def test_each_pin_has_a_licence_listed() -> None:
    listed = set(
        re.findall(r"^\| ([a-z0-9._-]+) \|", (ROOT / "LICENSES.md").read_text("utf-8"), re.M)
    )
    assert set(PINNED) <= {canonicalize_name(name) for name in listed}
