"""Edited copies of a film, made by FFmpeg with known times."""

import subprocess
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Piece:
    """A stretch of the source, played at ``speed`` times its own."""

    start_s: float
    end_s: float
    speed: float = 1.0


def edited(
    source: Path, target: Path, pieces: list[Piece], long_side: int = 640, quality: int = 26
) -> Path:
    """Write the pieces one after another at the source's frame rate, picture and sound."""
    sound = _has_sound(source)
    chains, labels = [], ""
    for number, piece in enumerate(pieces):
        cut = f"start={piece.start_s:.6f}:end={piece.end_s:.6f}"
        chains.append(f"[0:v]trim={cut},setpts=(PTS-STARTPTS)/{piece.speed}[v{number}]")
        labels += f"[v{number}]"
        if sound:
            chains.append(f"[0:a]atrim={cut},asetpts=PTS-STARTPTS,atempo={piece.speed}[a{number}]")
            labels += f"[a{number}]"
    chains.append(f"{labels}concat=n={len(pieces)}:v=1:a={int(sound)}[v]{'[a]' if sound else ''}")
    size = f"scale='if(gt(iw,ih),{long_side},-2)':'if(gt(iw,ih),-2,{long_side})'"
    chains.append(f"[v]fps={_rate(source)},{size}[w]")
    command = ["ffmpeg", "-v", "error", "-y", "-threads", "1", "-i", str(source)]
    command += ["-filter_complex", ";".join(chains), "-map", "[w]"]
    command += ["-map", "[a]"] if sound else []
    command += ["-c:v", "libx264", "-preset", "veryfast", "-crf", str(quality), str(target)]
    subprocess.run(command, check=True, capture_output=True)
    return target


def _rate(source: Path) -> str:
    return _probe(source, "v:0", "stream=r_frame_rate")


def _has_sound(source: Path) -> bool:
    return bool(_probe(source, "a:0", "stream=codec_name"))


def _probe(source: Path, stream: str, entry: str) -> str:
    command = ["ffprobe", "-v", "error", "-select_streams", stream, "-show_entries", entry]
    command += ["-of", "csv=p=0", str(source)]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()
