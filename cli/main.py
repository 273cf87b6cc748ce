"""The ``repwitness`` command: registers every sub-command and turns errors into one line."""

import importlib
import os
import sys
from collections.abc import Callable
from typing import Annotated, Final

import typer

from cli.commands import (
    agreement,
    athlete,
    audit,
    batch,
    compare,
    demo,
    explain,
    film_setup,
    forget,
    limits,
    mark,
    movements,
    plan,
    report,
    review,
    score,
    standards,
    validate,
    verify,
)
from cli.errors import BAD_INPUT, UserError
from cli.terminal import plain_streams

CAUTIONS: Final = (
    "Repwitness advises; the event's judges and its rulebook decide. Train within your means: "
    "never to failure under a loaded bar without safeties, stop on pain, look after your hands, "
    "and ask a coach or a physician where in doubt."
)

INTERRUPTED: Final = 130
"""Exit status after Ctrl-C: 128 and the number of SIGINT, as shells say it."""

app = typer.Typer(
    name="repwitness",
    help="Judge a filmed workout attempt: reps, no-reps with their reason, sets, breaks.",
    epilog=CAUTIONS,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    # Drawing help with rich takes longer than all the rest of showing it.
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)

_command: Callable[..., None]
for _command in (
    demo.demo,
    audit.audit,
    explain.explain,
    score.score,
    report.report,
    mark.mark,
    review.review,
    agreement.agreement,
    compare.compare,
):
    app.command()(_command)
app.command(help=plan.HELP)(plan.plan)
app.add_typer(athlete.group, name="athlete")
for _command in (batch.batch, film_setup.film_setup, movements.movements):
    app.command()(_command)
app.add_typer(standards.group, name="standards")
for _command in (validate.validate, verify.verify, limits.limits, forget.forget):
    app.command()(_command)


def _say_version(asked: bool) -> None:
    if asked:
        from cli.versions import tool_version

        typer.echo(f"repwitness {tool_version()}")
        raise typer.Exit


@app.callback()
def _options_of_all(
    _version: Annotated[
        bool,
        typer.Option(
            "--version", help="Print the version and exit.", callback=_say_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Options of the program itself, before any command's."""


def run() -> None:
    """Run the command line; the exit status is 0, 2 (wrong usage), 3 (bad input) or 130."""
    # Matrices here are small: threads inside linear algebra cost ten times what they save.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with plain_streams():
        _run()


def _run() -> None:
    try:
        for module in _POSIX_MODULES:
            importlib.import_module(module)
        app()
    except UserError as error:
        # A film may have a line break in its name; the error stays one line.
        typer.echo(f"repwitness: {error}".replace("\n", "\\n"), err=True)
        sys.exit(error.exit_status)
    except SystemExit as end:
        if end.code == INTERRUPTED:
            typer.echo("repwitness: stopped; run the same command again to continue", err=True)
        raise
    except ImportError as error:
        missing = _missing_from_the_system(error)
        if missing is None:
            raise
        typer.echo(f"repwitness: {missing}", err=True)
        sys.exit(BAD_INPUT)


_SYSTEM_LIBRARIES: Final = {
    "libEGL.so.1": "libegl1",
    "libGLESv2.so.2": "libgles2",
    "libGL.so.1": "libgl1",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
}


_POSIX_MODULES: Final = frozenset({"fcntl", "resource"})


def _missing_from_the_system(error: ImportError) -> str | None:
    """Say what to do where an import failed for want of a shared library or of POSIX."""
    if error.name in _POSIX_MODULES:
        return (
            "runs on Linux, and other POSIX systems such as macOS are worth a try; on Windows "
            "install it in the Windows Subsystem for Linux"
        )
    message = str(error)
    for library, package in _SYSTEM_LIBRARIES.items():
        if library in message:
            return (
                f"the system library {library} is missing; on Debian or Ubuntu install it with "
                f"'apt-get install {package}' and run the command again"
            )
    return None
