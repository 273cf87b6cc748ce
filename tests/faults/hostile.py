"""Films that strangers could send: damaged, odd, or no film at all."""

import struct
import subprocess
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

REFUSED, SAME, ANY = "refused", "same", "any"


@dataclass(frozen=True)
class Hostile:
    """One input.

    ``expected`` is what must become of it: refused; judged as the film that it was made from; or
    either refused or judged without contradicting that film. ``later_s`` is how much later it
    shows the same as that film, None where its times tell nothing.
    """

    name: str
    path: Path
    expected: str = ANY
    later_s: float | None = 0.0


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


LIBX265 = ["-c:v", "libx265", "-x265-params", "log-level=none"]
TEN_BIT = [*LIBX265, "-pix_fmt", "yuv420p10le"]
NO_B_FRAMES = ["-c:v", "libx264", "-bf", "0"]


def odd_films(folder: Path, film: Path) -> Iterator[Hostile]:
    """The film, an MP4 with sound, in every unusual shape, and films with nobody in them."""
    yield from _odd_pictures(folder, film)
    yield from _odd_times(folder, film)
    yield from _odd_sounds(folder, film)
    yield from _turned(folder, film)
    yield from _odd_scenes(folder, film)
    yield from _odd_names(folder, film)
    yield from _unchanged(folder, film)


def _odd_pictures(folder: Path, film: Path) -> Iterator[Hostile]:
    copy = ["-i", str(film)]
    pq = ["-color_primaries", "bt2020", "-color_trc", "smpte2084", "-colorspace", "bt2020nc"]
    hlg = ["-color_primaries", "bt2020", "-color_trc", "arib-std-b67", "-colorspace", "bt2020nc"]
    made = {
        "one frame.mp4": ([*copy, "-frames:v", "1"], ANY),
        "two videos.mkv": ([*copy, "-map", "0:v", "-map", "0:v"], SAME),
        "odd size.mkv": ([*copy, "-vf", "scale=iw-1:ih-1", "-pix_fmt", "yuv444p"], SAME),
        "tiny.mp4": ([*copy, "-vf", "scale=16:16"], ANY),
        "ten bit.mp4": ([*copy, *TEN_BIT], SAME),
        "hdr.mp4": ([*copy, *TEN_BIT, *hlg], SAME),
        "hdr of eight bits.mp4": ([*copy, *pq], SAME),
        "interlaced.mp4": ([*copy, "-flags", "+ildct+ilme", "-vf", "setfield=tff"], SAME),
        "grey.mp4": ([*copy, "-vf", "format=gray", "-c:v", "libx264"], ANY),
        "vp9.webm": (
            [*copy, "-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8"],
            SAME,
        ),
        "broad pixels.mp4": ([*copy, "-vf", "scale=trunc(iw/4)*2:ih,setsar=2/1"], ANY),
    }
    for name, (arguments, expected) in made.items():
        if made_by_ffmpeg(folder / name, arguments):
            yield Hostile(name, folder / name, expected)


def _odd_times(folder: Path, film: Path) -> Iterator[Hostile]:
    copy = ["-i", str(film)]
    # Matroska counts milliseconds. Decoding times, which it does not keep, are put so early that
    # presentation times may be anything after them.
    free = [*copy, "-an", *NO_B_FRAMES, "-bsf:v"]
    negative = ["-avoid_negative_ts", "disabled"]
    made: dict[str, tuple[list[str], str, float | None]] = {
        "variable.mp4": (
            [*copy, "-vf", "select='not(mod(n,3)*gt(t,1))'", "-fps_mode", "vfr"],
            ANY,
            0.0,
        ),
        "negative times.ts": (
            ["-itsoffset", "-1.5", *copy, "-c", "copy", "-copyts", *negative],
            SAME,
            -0.1,
        ),
        "lost times.mkv": (
            [*copy, "-an", "-vf", "setpts=PTS-1.5/TB", "-fps_mode", "passthrough", *negative],
            ANY,
            None,
        ),
        "huge times.mkv": ([*copy, "-an", "-vf", "setpts=PTS+90000000/TB"], ANY, 90_000_000.0),
        "late start.ts": (
            [*copy, "-an", "-vf", "setpts=PTS+80000/TB", "-muxdelay", "0"],
            ANY,
            80_000.0,
        ),
        "repeated times.mkv": (
            [*free, "setts=dts=DTS-9999:pts=PTS-mod(N\\,3)*33"],
            ANY,
            0.0,
        ),
        "backward times.mkv": ([*free, "setts=dts=DTS-99999:pts=9000-PTS"], ANY, None),
        "times that jump back.mkv": (
            [*free, "setts=dts=DTS-9999:pts=PTS-gt(N\\,20)*500"],
            ANY,
            0.0,
        ),
        "a straggler.mkv": ([*free, "setts=ts=TS+gt(N\\,25)*3000000"], ANY, None),
        "edit list.mp4": (["-ss", "0.4", *copy, "-c", "copy"], ANY, -0.4),
        "no times.avi": ([*copy, "-an", "-c:v", "mjpeg", "-f", "mjpeg"], ANY, None),
        "raw stream.mp4": (
            [*copy, "-an", "-f", "h264", "-bsf:v", "h264_mp4toannexb", "-c", "copy"],
            ANY,
            None,
        ),
        "two thousand a second.mp4": (
            ["-f", "lavfi", "-i", "testsrc=d=0.2:r=2000:s=64x64"],
            ANY,
            None,
        ),
    }
    for name, (arguments, expected, later_s) in made.items():
        if made_by_ffmpeg(folder / name, arguments):
            yield Hostile(name, folder / name, expected, later_s)
    trailing = folder / "trailing bytes.mp4"
    trailing.write_bytes(film.read_bytes() + np.random.default_rng(2).bytes(20_000))
    yield Hostile(trailing.name, trailing, SAME)


def _odd_sounds(folder: Path, film: Path) -> Iterator[Hostile]:
    copy = ["-i", str(film)]
    tone, still = ["-f", "lavfi", "-i", "sine=d=2"], ["-f", "lavfi", "-i", "anullsrc=d=2"]
    with_it = ["-map", "0:v", "-c:v", "copy", "-map", "1:a"]
    made = {
        "no sound.mp4": [*copy, "-an", "-c", "copy"],
        "mono.mkv": [*copy, *tone, *with_it, "-ac", "1"],
        "six channels.mkv": [*copy, *tone, *with_it, "-ac", "6", "-c:a", "aac"],
        "three sounds.mkv": [*copy, *tone, *with_it, "-map", "1:a", "-map", "1:a"],
        "mute sound.mp4": [*copy, *still, *with_it],
        "eight kilohertz.mkv": [*copy, *tone, *with_it, "-ar", "8000", "-c:a", "pcm_s16le"],
    }
    for name, arguments in made.items():
        if made_by_ffmpeg(folder / name, arguments):
            yield Hostile(name, folder / name, SAME)


TURNS = {
    0: ("null", (1, 0, 0, 1)),
    90: ("transpose=clock", (0, -1, 1, 0)),
    180: ("hflip,vflip", (-1, 0, 0, -1)),
    270: ("transpose=cclock", (0, 1, -1, 0)),
}
"""By the turn that a player makes, anticlockwise: what undoes it, and its display matrix."""


def _turned(folder: Path, film: Path) -> Iterator[Hostile]:
    """The stored picture turned or mirrored, with a display matrix that puts it right again."""
    for turn, (undone, (a, b, c, d)) in TURNS.items():
        for mirrored in (False, True):
            path = folder / f"{'mirrored and ' if mirrored else ''}turned by {turn}.mp4"
            picture = f"{undone},hflip" if mirrored else undone
            if made_by_ffmpeg(path, ["-i", str(film), "-vf", picture, "-map", "0:v"]):
                across = -1 if mirrored else 1
                _put_display_matrix(path, (across * a, across * b, c, d))
                yield Hostile(path.name, path, SAME)


def _put_display_matrix(film: Path, matrix: tuple[int, int, int, int]) -> None:
    """Write a display matrix into the first track's header (ISO/IEC 14496-12, 8.3.2)."""
    content = bytearray(film.read_bytes())
    header = content.index(b"tkhd")
    assert content[header + 4] == 0, "a track header of version 0"
    a, b, c, d = (value * 65536 for value in matrix)
    struct.pack_into(">9i", content, header + 44, a, b, 0, c, d, 0, 0, 0, 1 << 30)
    film.write_bytes(content)


def _unchanged(folder: Path, film: Path) -> Iterator[Hostile]:
    """Changes that must not matter to a count or a verdict."""
    made = {
        "mirrored.mp4": ["-vf", "hflip"],
        "brighter.mp4": ["-vf", "eq=brightness=0.12"],
        "darker.mp4": ["-vf", "eq=brightness=-0.12"],
        "cropped.mp4": ["-vf", "crop=iw*0.9:ih*0.96"],
        "smaller.mp4": ["-vf", "scale=trunc(iw*0.35)*2:-2"],
        "sixty a second.mp4": ["-vf", "minterpolate=fps=60:mi_mode=blend"],
        "twice as fast by a doubled clock.mp4": [
            "-vf", "setpts=PTS/2,fps=30,setpts=PTS*2", "-fps_mode", "vfr",
        ],
        "of low quality.mp4": ["-crf", "34"],
    }  # fmt: skip
    for name, arguments in made.items():
        if made_by_ffmpeg(folder / name, ["-i", str(film), *arguments]):
            yield Hostile(name, folder / name, SAME)


def _odd_scenes(folder: Path, film: Path) -> Iterator[Hostile]:
    copy = ["-i", str(film)]
    still = "[0:v]split[a][b];[b]select=eq(n\\,0),hflip,loop=-1:1:0,setpts=N/30/TB[s]"
    made = {
        "two athletes.mp4": [
            *copy, "-filter_complex", f"{still};[a][s]hstack=shortest=1[v]", "-map", "[v]",
        ],
        "an athlete who leaves.mp4": [
            *copy, "-filter_complex",
            "[0:v]split[a][b];[b]drawbox=t=fill:color=gray[g];"
            "[g][a]overlay=x='max(0,t-2.2)*w':shortest=1[v]", "-map", "[v]",
        ],
        "black.mp4": ["-f", "lavfi", "-i", "color=black:s=320x240:d=2"],
        "a moving pattern.mp4": ["-f", "lavfi", "-i", "testsrc2=s=320x240:d=2"],
    }  # fmt: skip
    for name, arguments in made.items():
        if made_by_ffmpeg(folder / name, arguments):
            yield Hostile(name, folder / name)


def _odd_names(folder: Path, film: Path) -> Iterator[Hostile]:
    content = film.read_bytes()
    for name in ("with space.mp4", "line\nbreak.mp4", "Übung ✓.mp4", "-v.mp4", "%d.mp4", "a:b.mp4"):
        (folder / name).write_bytes(content)
        yield Hostile(repr(name), folder / name, SAME)
    (folder / "link.mp4").symlink_to(film.resolve())
    yield Hostile("a link to a film", folder / "link.mp4", SAME)
    (folder / "link to a link.mp4").symlink_to(folder / "link.mp4")
    yield Hostile("a link to a link", folder / "link to a link.mp4", SAME)


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
    "mp4": ["-c:v", "libx264", "-c:a", "aac"],
    "mkv": ["-c:v", "libx264", "-c:a", "pcm_s16le", "-ar", "8000"],
    "webm": ["-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8", "-c:a", "libopus"],
    "ts": ["-c:v", "libx264", "-c:a", "mp2"],
    "avi": ["-c:v", "mpeg4", "-c:a", "libmp3lame"],
}


def containers(
    folder: Path, film: Path, kinds: Iterable[str] = CODECS, *, start_s: float = 0.0
) -> list[Path]:
    """A good second of the film, small, with sound, in several containers and codecs."""
    tone = ["-f", "lavfi", "-i", "sine=f=440:b=4", "-map", "0:v", "-map", "1:a", "-b:a", "32k"]
    made = []
    for kind in kinds:
        path = folder / f"{film.stem}.{kind}"
        source = ["-ss", str(start_s), "-i", str(film), *tone, "-t", "1.2"]
        if made_by_ffmpeg(path, [*source, "-vf", "scale=-2:180", "-g", "12", *CODECS[kind]]):
            made.append(path)
    return made


def piece(folder: Path, film: Path, length_s: float, height_px: int = 640) -> Path:
    """The beginning of a film, smaller, with a sound track: cheap to audit."""
    path = folder / f"{film.stem} beginning.mp4"
    tone = ["-f", "lavfi", "-i", "sine", "-map", "0:v", "-map", "1:a"]
    cut = ["-t", str(length_s), "-vf", f"scale=-2:{height_px}", "-g", "12", "-crf", "20"]
    assert made_by_ffmpeg(path, ["-i", str(film), *tone, *cut])
    return path


def made_by_ffmpeg(path: Path, arguments: list[str]) -> bool:
    """Run FFmpeg; False where this FFmpeg cannot make it."""
    fast = ["-preset", "veryfast"]  # means something to x264 and x265 alone
    command = ["ffmpeg", "-v", "error", "-nostdin", "-y", *arguments, *fast, f"file:{path}"]
    done = subprocess.run(command, capture_output=True, check=False)
    return done.returncode == 0 and path.exists() and path.stat().st_size > 0
