"""Options that several commands take."""

from pathlib import Path
from typing import Annotated

import typer

OwnStandards = Annotated[
    list[Path] | None,
    typer.Option(
        "--standards",
        metavar="FILE|DIR",
        help="Your own movement standard (TOML), or a folder of them; may be given several times.",
    ),
]
VariantDone = Annotated[
    str | None,
    typer.Option("--variant", metavar="NAME", help="The workout file's variant that is done."),
]
LimitsChanged = Annotated[
    list[str] | None,
    typer.Option(
        "--limit",
        metavar="NAME=VALUE",
        help="Allow a film more (or less) than usual; 'repwitness limits' lists them.",
    ),
]
BallTarget = Annotated[
    tuple[float, float, float, float] | None,
    typer.Option(
        "--target",
        metavar="X Y X Y",
        help="Two points of the ball's target line in the first picture, left and right, as shares "
        "of its width and height from the upper left: 0.4 0.2 0.6 0.21.",
    ),
]
