"""The command line: one file a command; parses, calls the core, prints."""

from __future__ import annotations

from cubital.cli.lazy import LazyGroup, run

__all__ = ["main"]

COMMANDS: dict[str, tuple[str, str]] = {
    "backup": ("cubital.cli.backup:backup", "Write the record to a file while the desk goes on."),
    "catalogue": ("cubital.cli.catalogue:catalogue", "Check and look at the tables of tests."),
    "demo": ("cubital.cli.demo:demo", "Open the desk with an invented clinic in it."),
    "desk": ("cubital.cli.desk:desk", "Open the desk."),
    "events": (
        "cubital.cli.events:events",
        "The log of everything that happened: list it, export it.",
    ),
    "indicators": ("cubital.cli.indicators:indicators", "Count what goes wrong; report a month."),
    "labels": ("cubital.cli.labels:labels", "Print the labels of a requisition's containers."),
    "plan": ("cubital.cli.plan:plan", "Plan the draw of one requisition, or of many."),
    "rebuild": ("cubital.cli.rebuild:rebuild", "Make what the screens read again from the events."),
    "restore": ("cubital.cli.restore:restore", "Put the record back out of a backup."),
    "verify": ("cubital.cli.verify:verify", "Walk the chains of events; name what was changed."),
}
"""Name of a command -> where it stands, and its line in the help.  Nothing is loaded before use."""

main = run(LazyGroup(COMMANDS, help="The working desk of the person who draws blood."))
