"""A pose model is the one meant, or it is not used."""

import hashlib
import shutil
from pathlib import Path

import pytest

from vision.pose import bundle
from vision.pose.bundle import BUNDLED_SHA256, MODELS, ModelError, load_bundle


@pytest.mark.parametrize("name", ["full"])
def test_shipped_models_have_the_noted_checksum(name: str) -> None:
    content = (MODELS / f"pose_landmarker_{name}.task").read_bytes()
    assert hashlib.sha256(content).hexdigest() == BUNDLED_SHA256[name]
    assert load_bundle(name).sha256 == BUNDLED_SHA256[name]


def test_a_damaged_shipped_model_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = bytearray((MODELS / "pose_landmarker_full.task").read_bytes())
    content[len(content) // 2] ^= 1
    (tmp_path / "pose_landmarker_full.task").write_bytes(content)
    monkeypatch.setattr(bundle, "MODELS", tmp_path)
    with pytest.raises(ModelError, match="damaged"):
        load_bundle("full")


def test_any_bundle_can_be_named_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "mine.task"
    shutil.copy(MODELS / "pose_landmarker_full.task", path)
    loaded = load_bundle(path)
    assert loaded.name == str(path)
    assert loaded.landmarks == load_bundle("full").landmarks


@pytest.mark.parametrize("name", ["nowhere.task", "huge"])
def test_a_missing_model_is_named_with_a_way_out(name: str) -> None:
    with pytest.raises(ModelError, match=f'{name}.*"full"'):
        load_bundle(name)


def test_a_file_that_is_no_bundle_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "text.task"
    path.write_text("no networks in here")
    with pytest.raises(ModelError, match=r"text\.task: not a pose model bundle"):
        load_bundle(path)
