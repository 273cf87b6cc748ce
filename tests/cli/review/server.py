"""The desk in a process of its own."""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

SERVE = (
    "import sys; from pathlib import Path; from cli.review.serving import serve;"
    "serve(Path(sys.argv[1]), '127.0.0.1', int(sys.argv[2]), [], None,"
    " lambda words: print(words, flush=True))"
)


class Server:
    """The desk in a process of its own, that can be killed and started again."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.port = 0
        self.start()

    def start(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", SERVE, str(self._folder), str(self.port)],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        assert self._process.stdout is not None
        told = self._process.stdout.readline()
        found = re.search(r"127\.0\.0\.1:(\d+)/", told)
        assert found is not None, told
        self.port = int(found[1])

    def kill(self) -> None:
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/"
