"""The command line: one file a command; parses, calls the core, prints."""

from __future__ import annotations

import click

from cubital import __version__


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="cubital")
def main() -> None:
    """The working desk of the person who draws blood for a laboratory."""
