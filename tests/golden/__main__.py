"""Compare all kept records with what is found now, and keep what is found with ``--write``.

    python -m tests.golden [--write]

Write only after every difference has been understood, and say in the commit what it was.
"""

import argparse
import json
import sys
from typing import Any

from tests.golden.compact import unpack
from tests.golden.reference import LANDMARKS, kept_json, record_file, record_of


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--write", action="store_true")
    write = parser.parse_args().write
    differing = 0
    for landmarks in LANDMARKS:
        track, facts = unpack(landmarks)
        found = kept_json(record_of(track, facts["movement"]))
        file = record_file(landmarks)
        kept = file.read_text(encoding="utf-8") if file.exists() else "{}"
        calls = "".join(call(rep) for rep in json.loads(found)["reps"])
        before = "".join(call(rep) for rep in json.loads(kept).get("reps", []))
        same = found == kept
        differing += not same
        truth = "".join("x" if no_rep else "o" for no_rep in facts["no_rep"])
        print(f"{landmarks.stem:20} truth {truth:6} found {calls:6} kept {before:6}", end=" ")
        print("same" if same else "differs")
        if write and not same:
            file.parent.mkdir(exist_ok=True)
            file.write_text(found, encoding="utf-8")
    print(f"{len(LANDMARKS)} landmark files, {differing} records differ")
    sys.exit(1 if differing and not write else 0)


def call(rep: dict[str, Any]) -> str:
    """One letter a rep: o good, x no-rep, ? too close."""
    return {"good": "o", "no-rep": "x", "too close": "?", "only counted": "-"}[rep["verdict"]]


if __name__ == "__main__":
    main()
