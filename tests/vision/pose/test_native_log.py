"""Loading networks side by side prints nothing, and takes nothing from what others print."""

import subprocess
import sys

import pytest

LOADERS = 4
LOAD_WHILE_WRITING = f"""
import os, threading
from vision.pose.bundle import load_bundle
from vision.pose.blazepose import BlazePose

bundle = load_bundle("full")
loaders = [threading.Thread(target=BlazePose, args=(bundle,)) for _ in range({LOADERS})]
for loader in loaders:
    loader.start()
count = 0
while any(loader.is_alive() for loader in loaders) or count < 100:
    os.write(2, b"%d\\n" % count)
    count += 1
for loader in loaders:
    loader.join()
print(count)
"""


@pytest.mark.slow
def test_what_is_written_while_networks_load_arrives_whole_and_alone() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", LOAD_WHILE_WRITING],
        env={"PYTHONPATH": ":".join(sys.path), "PATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stderr.splitlines() == [str(number) for number in range(int(ran.stdout))]
