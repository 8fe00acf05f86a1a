"""The command line: one file a command; parses, calls the core, prints."""

from __future__ import annotations

from cubital.cli.lazy import LazyGroup, run

__all__ = ["main"]

COMMANDS: dict[str, tuple[str, str]] = {
    "catalogue": ("cubital.cli.catalogue:catalogue", "Check and look at the tables of tests."),
    "demo": ("cubital.cli.demo:demo", "Open the desk with an invented clinic in it."),
    "desk": ("cubital.cli.desk:desk", "Open the desk."),
    "labels": ("cubital.cli.labels:labels", "Print the labels of a requisition's containers."),
    "plan": ("cubital.cli.plan:plan", "Plan the draw of one requisition, or of many."),
}
"""Name of a command -> where it stands, and its line in the help.  Nothing is loaded before use."""

main = run(LazyGroup(COMMANDS, help="The working desk of the person who draws blood."))
