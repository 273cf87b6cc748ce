"""The inside of a film's own process: takes one task, answers with lines of JSON.

Started by `cli.batch.film_process` as ``python -m cli.batch.child``. Its input holds the task's
length (8 bytes, little endian) and the pickled task, and stays open: when it closes, the parent
has died, and this process ends with everything it has started.
"""

import io
import json
import os
import pickle
import resource
import signal
import sys
import threading
from typing import Any

from cli.errors import UserError


def main() -> None:
    """Audit one film and answer ``{}`` or ``{"error": sentence}``, after lines of progress."""
    with os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8") as answers:
        # What native libraries print goes to the log, never between the answers.
        os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
        source = sys.stdin.buffer
        task = source.read(int.from_bytes(source.read(8), "little"))
        threading.Thread(target=_end_with_parent, args=(source,), daemon=True).start()
        answer = _do(task, answers)
        answers.write(json.dumps(answer) + "\n")


def _do(task: bytes, answers: io.TextIOBase) -> dict[str, str]:
    def progress(stage: str, done_s: float, all_s: float) -> None:
        message = {"stage": stage, "done_s": done_s, "all_s": all_s}
        answers.write(json.dumps(message) + "\n")
        answers.flush()

    memory_bytes = 0
    try:
        audit, request, memory_bytes = pickle.loads(task)
        _limit(resource.RLIMIT_DATA, memory_bytes)
        _limit(resource.RLIMIT_CORE, 0)
        audit(request, progress)
    except UserError as error:
        return {"error": str(error)}
    except MemoryError:
        return {"error": f"needs more than {memory_bytes / 2**30:g} GiB of memory"}
    except OSError as error:
        return {"error": f"{type(error).__name__}: {error}"}
    except Exception as error:
        sys.excepthook(type(error), error, error.__traceback__)
        return {"error": f"unexpected {type(error).__name__}: {error}"}
    return {}


def _limit(what: int, value: int) -> None:
    _, hard = resource.getrlimit(what)
    allowed = value if hard == resource.RLIM_INFINITY else min(value, hard)
    resource.setrlimit(what, (allowed, hard))


def _end_with_parent(source: Any) -> None:
    source.read()
    os.killpg(os.getpgrp(), signal.SIGKILL)


if __name__ == "__main__":
    main()
