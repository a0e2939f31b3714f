"""The command line: results on standard output, everything else on standard error.

Each command lives in a module of this package and is imported only when it is called, so that
``narrator --help`` does not wait for spaCy.
"""

from __future__ import annotations

import errno
import gc
import importlib
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import click

from narrator import __version__
from narrator.errors import NarratorError

COMMANDS: dict[str, str] = {
    "bench": "narrator.cli.bench",
    "compile": "narrator.cli.compiling",
    "vocabulary": "narrator.cli.vocabulary",
    "hear": "narrator.cli.hearing",
    "listen": "narrator.cli.listening",
    "microphones": "narrator.cli.microphones",
    "models": "narrator.cli.models",
    "add": "narrator.cli.add",
    "backup": "narrator.cli.backup",
    "correct": "narrator.cli.correcting",
    "explain": "narrator.cli.explaining",
    "export": "narrator.cli.export",
    "forget": "narrator.cli.forget",
    "insert": "narrator.cli.inserting",
    "rebuild": "narrator.cli.rebuild",
    "rehear": "narrator.cli.rehear",
    "replay": "narrator.cli.replay",
    "review": "narrator.cli.review",
    "search": "narrator.cli.search",
    "sessions": "narrator.cli.sessions",
    "sheet": "narrator.cli.sheet",
    "show": "narrator.cli.show",
    "strike": "narrator.cli.striking",
    "study": "narrator.cli.study",
}
"""Command name to the module that holds a click command named ``command``."""


_QUIET = {
    "backup", "compile", "correct", "explain", "export", "forget", "rebuild", "search", "sheet", "show",
    "strike", "study", "vocabulary",
}  # fmt: skip
"""Commands that are done in a moment with most jobs, and tell nothing until then."""
_PATIENCE_S = 1.5
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG}
"""What a disk answers that takes no more; results may go to a file on one."""


class _Lazy(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(COMMANDS[cmd_name])
        command: click.Command = module.command
        return command


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def cli() -> None:
    """Listen to a job being narrated, keep what was said, and compile a record of it."""


def main() -> None:
    """Run the command line; a coded error is printed on standard error and ends with exit code 2."""
    code = _run()
    if code:
        gc.unfreeze()
        gc.collect()  # what the error's frames still hold, a library of sound would tell of as leaked
    sys.exit(code)


def _run() -> int:
    try:
        with _sign_of_life():
            cli(standalone_mode=False)
    except NarratorError as error:
        click.echo(str(error), err=True)
        return 2
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        return 130
    except OSError as error:
        if error.errno not in _FULL:
            raise
        click.echo(str(NarratorError("E501", path="the output", why=error.strerror)), err=True)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # what is left of it goes nowhere
        return 2
    return 0


@contextmanager
def _sign_of_life() -> Iterator[None]:
    """Say on a terminal that a command that prints only its result is at work, where that takes longer."""
    if not (sys.stderr.isatty() and _QUIET.intersection(sys.argv[1:2])):
        yield
        return
    timer = threading.Timer(_PATIENCE_S, lambda: click.echo("At work ...", err=True))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


if __name__ == "__main__":
    main()
