"""
A group whose commands are loaded when they are called: `cubital plan` never imports the desk.
"""

from __future__ import annotations

import errno
import importlib
import io
import sys
from collections.abc import Mapping
from typing import Any

import click

from cubital import __version__
from cubital.errors import CubitalError, InputError

REFUSED = 2
"""Exit code when what was given cannot be used."""


class Refused(click.ClickException):
    """One sentence on standard error, and exit code 2."""

    exit_code = REFUSED

    def show(self, file: Any = None) -> None:
        """Print the sentence."""
        click.echo(f"cubital: {self.format_message()}", err=True)


class LazyGroup(click.Group):
    """
    A group that knows its commands by name only.

    Args:
        commands: name -> (``module:object``, its line in the help).
        options: as of :class:`click.Group`.
    """

    def __init__(self, commands: Mapping[str, tuple[str, str]], **options: Any) -> None:
        super().__init__(
            name="cubital", context_settings={"help_option_names": ["-h", "--help"]}, **options
        )
        self.lazy = dict(commands)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names, sorted."""
        return sorted(self.lazy)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        if cmd_name not in self.lazy:
            return None
        module, _, name = self.lazy[cmd_name][0].partition(":")
        command: click.Command = getattr(importlib.import_module(module), name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without loading them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, self.lazy[name][1]) for name in self.list_commands(ctx)])

    def invoke(self, ctx: click.Context) -> Any:
        """
        Run a command; what was refused on purpose is one sentence, not a trace.

        So is what the machine refuses: a full disk, a folder that may not be written to.
        """
        speak_utf8()
        try:
            return super().invoke(ctx)
        except InputError as refused:
            raise Refused(str(refused)) from refused
        except CubitalError as failed:
            raise click.ClickException(str(failed)) from failed
        except OSError as failed:
            if failed.errno == errno.EPIPE:  # whoever read has read enough; click ends quietly
                raise
            raise click.ClickException(_unwritten(failed)) from failed


def speak_utf8() -> None:
    """Write UTF-8 whatever the terminal's settings say: a name that cannot be written is lost."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.encoding.casefold() != "utf-8":
            stream.reconfigure(encoding="utf-8")


def _unwritten(failed: OSError) -> str:
    place = failed.filename or "the output"
    return f"{place}: it cannot be used ({failed.strerror or failed}). Mend that and try again."


def run(group: LazyGroup) -> LazyGroup:
    """The group with its version option."""
    return click.version_option(__version__, prog_name="cubital")(group)
