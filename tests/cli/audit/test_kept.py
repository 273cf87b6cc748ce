"""What is kept is taken back to the last bit, or not at all; and it proves nothing."""

import ast
import zipfile
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import cli
from cli.audit import kept
from cli.audit.kept import CONTINUITY, FILM, FIT, KINDS, LANDMARKS, Kept, Kind, drop_outdated
from cli.audit.request import AuditRequest
from cli.audit.run import audit_film
from cli.main import app
from vision.files import WriteError

ARRAYS = {"a": np.linspace(0.0, 1.0, 7) ** 0.5, "b": np.array(0.1)}
TOP = Path(str(cli.__file__)).parent.parent
CLIP = TOP / "sample_clips" / "boathouse_air_squats.mp4"
EVERY_KIND = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)


@EVERY_KIND
def test_what_was_put_is_taken_to_the_last_bit(tmp_path: Path, kind: Kind) -> None:
    Kept(tmp_path, kind).put(["film", 1], ARRAYS)
    taken = Kept(tmp_path, kind).take(["film", 1], ARRAYS)
    assert taken is not None
    assert all(np.array_equal(taken[name], values) for name, values in ARRAYS.items())
    assert Kept(tmp_path, kind).take(["film", 2], ARRAYS) is None


def test_a_document_comes_back(tmp_path: Path) -> None:
    Kept(tmp_path, CONTINUITY).put_document("film", {"findings": [], "frames": 3})
    assert Kept(tmp_path, CONTINUITY).take_document("film") == {"findings": [], "frames": 3}
    assert Kept(tmp_path, CONTINUITY).take_document("another") is None


@EVERY_KIND
def test_what_other_code_made_is_none_and_goes_once_a_record_stands(
    tmp_path: Path, kind: Kind, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = Kept(tmp_path, kind).put("film", ARRAYS)
    own = tmp_path / f"{kind.name}-notes.npz"
    own.write_bytes(b"the user's")
    with monkeypatch.context() as patched:
        patched.setattr(kept, "code_digest", lambda _kind: "another day's")
        assert Kept(tmp_path, kind).find("film") is None
        # Not even under the name that its own code would have given it.
        file.rename(Kept(tmp_path, kind)._file("film"))
        assert Kept(tmp_path, kind).find("film") is None
        drop_outdated(tmp_path)
    assert list(tmp_path.iterdir()) == [own]


def test_what_the_code_of_today_made_is_not_dropped(tmp_path: Path) -> None:
    file = Kept(tmp_path, FIT).put("film", ARRAYS)
    drop_outdated(tmp_path)
    assert file.is_file()


def test_an_entry_written_by_hand_is_none(tmp_path: Path) -> None:
    entries = Kept(tmp_path, CONTINUITY)
    file = entries.put_document("film", {"findings": ["a cut at 0:12"]})
    np.savez(file, document=np.array('{"findings": []}'))
    assert entries.take_document("film") is None


def test_an_entry_edited_under_its_seal_is_none(tmp_path: Path) -> None:
    entries = Kept(tmp_path, CONTINUITY)
    file = entries.put_document("film", {"findings": ["a cut at 0:12"]})
    with zipfile.ZipFile(file) as archive:
        comment = archive.comment
    np.savez(file, document=np.array('{"findings": []}'))
    with zipfile.ZipFile(file, "a") as archive:
        archive.comment = comment
    assert entries.take_document("film") is None


def test_the_entry_of_another_film_under_this_name_is_none(tmp_path: Path) -> None:
    entries = Kept(tmp_path, CONTINUITY)
    other = entries.put_document("a whole film", {"findings": []})
    other.rename(entries.put_document("a cut film", {"findings": ["a cut at 0:12"]}))
    assert entries.take_document("a cut film") is None


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_half_a_file_is_none(tmp_path: Path, share: float) -> None:
    file = Kept(tmp_path, FIT).put("key", ARRAYS)
    content = file.read_bytes()
    file.write_bytes(content[: int(share * len(content))])
    assert Kept(tmp_path, FIT).take("key", ARRAYS) is None


def test_a_flipped_bit_is_noticed(tmp_path: Path) -> None:
    file = Kept(tmp_path, FIT).put("key", ARRAYS)
    content = bytearray(file.read_bytes())
    content[content.index(ARRAYS["a"].tobytes()) + 20] ^= 1
    file.write_bytes(content)
    assert Kept(tmp_path, FIT).take("key", ARRAYS) is None


def test_where_nothing_can_be_written_it_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    entries = Kept(tmp_path / "file", FIT)
    assert entries.take("key", ARRAYS) is None
    with pytest.raises(WriteError, match="fit-"):
        entries.put("key", ARRAYS)


@pytest.mark.parametrize(
    ("kind", "makers"),
    [
        (FILM, ["vision.film.reading"]),
        (LANDMARKS, ["vision.athlete.extraction", "vision.barbell.tracking"]),
        (CONTINUITY, ["vision.continuity.assess"]),
        (FIT, ["counting.body.film_fit"]),
    ],
    ids=lambda value: value.name if isinstance(value, Kind) else "",
)
def test_all_code_that_makes_an_entry_is_known_by_it(kind: Kind, makers: list[str]) -> None:
    unknown = [
        module
        for module in imported_by(makers)
        if not any(f"{module}.".startswith(f"{source}.") for source in kind.sources)
    ]
    assert not unknown


@EVERY_KIND
def test_a_changed_line_of_that_code_makes_other_code(
    kind: Kind, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for source in kind.sources:
        place = TOP.joinpath(*source.split("."))
        for file in place.rglob("*.py") if place.is_dir() else [place.with_suffix(".py")]:
            copy = tmp_path / file.relative_to(TOP)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(file.read_bytes())
    monkeypatch.setattr(kept, "_TOP", tmp_path)
    before = kept.code_digest.__wrapped__(kind)
    assert before == kept.code_digest(kind)
    for changed in (next(tmp_path.rglob("*.py")), max(tmp_path.rglob("*.py"))):
        changed.write_text(changed.read_text() + "\n# another line\n")
        after = kept.code_digest.__wrapped__(kind)
        assert after != before
        before = after


def imported_by(modules: list[str]) -> set[str]:
    """Modules of ours that these import, and those that they import, and so on."""
    found: set[str] = set()
    to_read = list(modules)
    while to_read:
        module = to_read.pop()
        file = TOP.joinpath(*module.split(".")).with_suffix(".py")
        if module in found or not file.is_file():
            continue
        found.add(module)
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                to_read += [node.module, *(f"{node.module}.{name.name}" for name in node.names)]
    return found


@pytest.mark.slow
def test_verify_takes_nothing_kept_however_well_forged(tmp_path: Path) -> None:
    """Whoever computes the seal too can deceive an audit, but not the proof."""
    out = tmp_path / "film.audit"
    request = AuditRequest(CLIP, "air squat", None, (), out, end_s=1.5)
    true = audit_film(request, lambda *_progress: None)
    assert true.continuity is not None
    entries, made_from = Kept(out, CONTINUITY), Path(str(true.landmarks_file)).stem
    document = entries.take_document(made_from)
    assert document is not None
    document["frames"] += 1000
    entries.put_document(made_from, document)
    assert audit_film(request, lambda *_progress: None).continuity != true.continuity
    done = CliRunner().invoke(app, ["verify", str(out), str(CLIP), "--workers", "2"])
    assert done.exit_code == 1
    assert "differs: continuity.frames" in done.output
    entries.find(made_from).unlink()
    audit_film(request, lambda *_progress: None)
    done = CliRunner().invoke(app, ["verify", str(out), str(CLIP), "--workers", "2"])
    assert done.exit_code == 0, done.output
