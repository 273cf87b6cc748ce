"""``repwitness limits``: the most a film may ask of the machine, and how to allow more."""

from dataclasses import asdict

import typer

from vision.film.limits import DEFAULT_LIMITS, WORDS


def limits() -> None:
    """List the limits on films, and how to raise them.

    Films over a limit are refused before they are decoded.

    Change one with --limit NAME=VALUE of 'audit' and 'batch'.
    """
    width = max(len(name) for name in WORDS)
    for name, most in asdict(DEFAULT_LIMITS).items():
        typer.echo(f"{name:<{width}}  {most:>18,}  {WORDS[name]}")
