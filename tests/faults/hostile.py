"""Films that strangers could send: damaged, odd, or no film at all."""

import subprocess
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

REFUSED, ANY = "refused", "any"


@dataclass(frozen=True)
class Hostile:
    """One input; ``expected`` is what must become of it: refused, or read as well."""

    name: str
    path: Path
    expected: str = ANY


def no_films(folder: Path) -> Iterator[Hostile]:
    """What is named as a film and is none: each must be refused."""
    contents = {
        "zero length.mp4": b"",
        "text.mp4": b"3, 2, 1, go!\n" * 100,
        "noise.mp4": np.random.default_rng(1).bytes(50_000),
        "header alone.mp4": b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom",
        "playlist.mp4": b"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n/etc/hostname\n",
        "concat.mp4": b"ffconcat version 1.0\nfile /etc/hostname\n",
    }
    for name, content in contents.items():
        (folder / name).write_bytes(content)
        yield Hostile(name, folder / name, REFUSED)
    (folder / "folder.mp4").mkdir()
    yield Hostile("a folder", folder / "folder.mp4", REFUSED)
    with zipfile.ZipFile(folder / "archive.mp4", "w") as archive:
        archive.writestr("film.mp4", b"film")
    yield Hostile("an archive", folder / "archive.mp4", REFUSED)
    made = {
        "picture.mp4": ["-f", "lavfi", "-i", "testsrc=d=1", "-frames:v", "1", "-f", "image2"],
        "sound alone.mp4": ["-f", "lavfi", "-i", "sine=d=2", "-c:a", "aac", "-f", "mp4"],
        "no frames.mp4": ["-f", "lavfi", "-i", "testsrc=d=1", "-frames:v", "0", "-f", "mp4"],
    }
    for name, arguments in made.items():
        made_by_ffmpeg(folder / name, arguments)
        yield Hostile(name, folder / name, REFUSED)
    (folder / "nowhere.mp4").symlink_to(folder / "missing")
    yield Hostile("a link to nothing", folder / "nowhere.mp4", REFUSED)
    (folder / "round.mp4").symlink_to(folder / "round.mp4")
    yield Hostile("a link to itself", folder / "round.mp4", REFUSED)
    yield Hostile("a missing file", folder / "never.mp4", REFUSED)


def odd_films(folder: Path, film: Path) -> Iterator[Hostile]:
    """Films that are unusual: read well, or refused in a line."""
    copy = ["-i", str(film), "-t", "2"]
    made = {
        "one frame.mp4": [*copy, "-frames:v", "1"],
        "two videos.mkv": [*copy, "-map", "0:v", "-map", "0:v"],
        "odd size.mkv": [*copy, "-vf", "scale=333:187", "-pix_fmt", "yuv444p"],
        "tiny.mp4": [*copy, "-vf", "scale=16:16"],
        "ten bit.mp4": [
            *copy, "-c:v", "libx265", "-pix_fmt", "yuv420p10le", "-x265-params", "log-level=none",
        ],
        "hdr.mp4": [
            *copy, "-color_primaries", "bt2020", "-color_trc", "smpte2084",
            "-colorspace", "bt2020nc",
        ],
        "interlaced.mp4": [*copy, "-flags", "+ildct+ilme", "-vf", "setfield=tff"],
        "vp9.webm": [*copy, "-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8"],
        "variable.mp4": [*copy, "-vf", "select='not(mod(n,3)*gt(t,1))'", "-fps_mode", "vfr"],
        "negative times.mkv": [*copy, "-vf", "setpts=PTS-1.5/TB", "-avoid_negative_ts", "disabled"],
        "huge times.mkv": [*copy, "-vf", "setpts=PTS+90000000/TB"],
        "late start.ts": [*copy, "-vf", "setpts=PTS+80000/TB", "-muxdelay", "0"],
        "edit list.mp4": ["-ss", "0.7", "-i", str(film), "-t", "1", "-c", "copy"],
        "no times.avi": [*copy, "-c:v", "mjpeg", "-f", "mjpeg"],
        "raw stream.mp4": [*copy, "-f", "h264", "-bsf:v", "h264_mp4toannexb", "-c", "copy"],
        "three sounds.mkv": [
            *copy, "-f", "lavfi", "-i", "sine=d=2", "-map", "0:v", "-map", "1:a", "-map", "1:a",
            "-map", "1:a", "-shortest",
        ],
        "mute sound.mp4": [
            *copy, "-f", "lavfi", "-i", "anullsrc=d=2", "-map", "0:v", "-map", "1:a", "-shortest",
        ],
        "black.mp4": ["-f", "lavfi", "-i", "color=black:s=320x240:d=2"],
        "two thousand a second.mp4": ["-f", "lavfi", "-i", "testsrc=d=0.2:r=2000:s=64x64"],
    }  # fmt: skip
    for name, arguments in made.items():
        path = folder / name
        if made_by_ffmpeg(path, arguments):
            yield Hostile(name, path)
    for turn in (90, 180, 270):
        path = folder / f"turned {turn}.mp4"
        if made_by_ffmpeg(path, ["-display_rotation", str(turn), *copy, "-c", "copy"]):
            yield Hostile(path.name, path)
    content = (folder / "one frame.mp4").read_bytes()
    for name in ("with space.mp4", "line\nbreak.mp4", "Übung ✓.mp4", "-v.mp4", "%d.mp4", "a:b.mp4"):
        (folder / name).write_bytes(content)
        yield Hostile(repr(name), folder / name)


def cut_short(folder: Path, film: Path, parts: int = 100) -> Iterator[Hostile]:
    """The film cut off at every hundredth of its length."""
    content = film.read_bytes()
    for part in range(1, parts):
        path = folder / f"cut{film.suffix}"
        path.write_bytes(content[: len(content) * part // parts])
        yield Hostile(f"{film.name} cut at {part}/{parts}", path)


def flipped(folder: Path, film: Path, variants: int, seed: int) -> Iterator[Hostile]:
    """The film with 1 to 64 bits turned over, a third of the time in its first kilobytes."""
    content = film.read_bytes()
    for variant in range(variants):
        rng = np.random.default_rng([seed, variant])
        changed = bytearray(content)
        reach = min(4096, len(content)) if variant % 3 == 0 else len(content)
        for place in rng.integers(0, reach, int(2 ** rng.uniform(0, 6))):
            changed[place] ^= 1 << int(rng.integers(8))
        path = folder / f"flipped{film.suffix}"
        path.write_bytes(bytes(changed))
        yield Hostile(f"{film.name} flipped, variant {variant} of seed {seed}", path)


CODECS = {
    "mp4": ["-c:v", "libx264"],
    "mkv": ["-c:v", "libx264"],
    "webm": ["-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8"],
    "ts": ["-c:v", "libx264"],
    "avi": ["-c:v", "mpeg4"],
}


def containers(folder: Path, film: Path, kinds: Iterable[str] = CODECS) -> list[Path]:
    """Two seconds of the film, small, in several containers and codecs."""
    made = []
    for kind in kinds:
        path = folder / f"short.{kind}"
        arguments = ["-i", str(film), "-t", "2", "-vf", "scale=-2:180", *CODECS[kind]]
        if made_by_ffmpeg(path, arguments):
            made.append(path)
    return made


def made_by_ffmpeg(path: Path, arguments: list[str]) -> bool:
    """Run FFmpeg; False where this FFmpeg cannot make it."""
    command = ["ffmpeg", "-v", "error", "-nostdin", "-y", *arguments, f"file:{path}"]
    done = subprocess.run(command, capture_output=True, check=False)
    return done.returncode == 0 and path.exists()
