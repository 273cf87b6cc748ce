"""Coverage-guided fuzzing of every parser (needs ``pip install atheris``; not in the suite).

    python -m tests.faults.fuzz [PARSER] [--inputs N]

Each parser runs in a process of its own. An input that raises anything but the parser's refusal,
or takes over ten seconds, is kept in ``tests/faults/seeds``, which the suite tries from then on.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

SLOWEST_S = 10


def main() -> None:
    """Run from the command line: one parser here, or all in turn."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("parser", nargs="?")
    parser.add_argument("--inputs", type=int, default=100_000)
    arguments = parser.parse_args()
    if arguments.parser is not None:
        fuzz(arguments.parser, arguments.inputs)
        return
    from tests.faults.parsers import PARSERS

    faults = 0
    for name in PARSERS:
        inputs = arguments.inputs
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "tests.faults.fuzz", name, "--inputs", str(inputs)]
            done = subprocess.run(
                command,
                env={**os.environ, "FUZZ_FOLDER": folder},
                capture_output=True,
                text=True,
                check=False,
            )
            crashes = [
                file
                for kind in ("crash", "timeout", "oom")
                for file in Path(folder).glob(f"{kind}-*")
            ]
            keep(name, crashes)
        faults += len(crashes)
        print(f"{name:12} {inputs:8} inputs  {len(crashes)} faults", flush=True)
        if done.returncode and not crashes:
            faults += 1
            print(done.stderr[-2000:])
    sys.exit(1 if faults else 0)


def keep(name: str, crashes: list[Path]) -> None:
    """Keep the inputs that were a fault as seeds of the suite."""
    from tests.faults.parsers import SEEDS

    for crash in crashes:
        target = SEEDS / name.replace(" ", "_") / crash.name[:30]
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(crash, target)


def fuzz(name: str, inputs: int) -> None:
    """Fuzz one parser in this process until the inputs are done or one is a fault."""
    import atheris

    with atheris.instrument_imports(
        include=["counting", "cli", "vision"], enable_loader_override=False
    ):
        from tests.faults.parsers import PARSERS, kept_seeds, try_one

    parser = PARSERS[name]
    folder = Path(os.environ.get("FUZZ_FOLDER") or tempfile.mkdtemp())
    corpus = folder / "corpus"
    corpus.mkdir(exist_ok=True)
    starts = [*parser.starts(), *(seed.read_bytes() for seed in kept_seeds(name))]
    for number, start in enumerate(starts):
        (corpus / str(number)).write_bytes(start)
    atheris.Setup(
        [
            sys.argv[0],
            f"-runs={inputs}",
            f"-timeout={SLOWEST_S}",
            f"-artifact_prefix={folder}/",
            "-rss_limit_mb=4096",
            "-max_len=20000",
            str(corpus),
        ],
        lambda data: try_one(parser, data),
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main()
