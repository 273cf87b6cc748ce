"""Names of movements, as people write them."""

import re


def slug(name: str) -> str:
    """Turn a movement's name into its file name: lower case, everything else an underscore.

    Case, spaces, hyphens and underscores therefore do not matter when a movement is looked up.
    """
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
