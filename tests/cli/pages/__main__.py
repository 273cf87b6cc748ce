"""Keep every page's picture as it is now: ``PYTHONPATH=tests python -m tests.cli.pages``."""

import os
import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.cli.conftest import NAMES
from tests.cli.pages.pictures import KEPT, taken


def main() -> None:
    """Write the pictures whose names hold one of the arguments, or all."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    KEPT.mkdir(exist_ok=True)
    with sync_playwright() as running, tempfile.TemporaryDirectory() as folder:
        browser = running.chromium.launch(executable_path=found, args=["--no-sandbox"])
        for name, picture in taken(
            lambda width, height: browser.new_page(viewport={"width": width, "height": height}),
            Path(folder),
        ):
            if len(sys.argv) == 1 or any(word in name for word in sys.argv[1:]):
                picture.save(KEPT / f"{name}.webp", lossless=True)
                print(name, picture.size)
        browser.close()


if __name__ == "__main__":
    main()
