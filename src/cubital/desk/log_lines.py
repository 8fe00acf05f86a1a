"""
Lines of the log that name nobody: the route instead of the address, an error without its sentence.

An address may hold a patient's number, and the sentence of an error what somebody typed; databases
quote whole values in theirs.  Where the desk failed, and with what kind of error, is told.
"""

from __future__ import annotations

import copy
import logging
import traceback
from types import TracebackType
from typing import Any

NO_ROUTE = "an address that the desk does not have"

ErrorInfo = (
    tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]
)


class NamelessFormatter(logging.Formatter):
    """Writes a line of the log without anything that came in from outside."""

    def format(self, record: logging.LogRecord) -> str:
        """Put the route in place of the address, and the trace without its sentences."""
        line = copy.copy(record)
        line.exc_text = None  # another handler may have written it out already
        request = getattr(record, "request", None)
        if request is not None and isinstance(record.args, tuple):
            line.args = tuple(_without_address(each, request) for each in record.args)
        return super().format(line)

    def formatException(self, ei: ErrorInfo) -> str:  # noqa: N802 - logging's own name
        """Where it happened and the kind of each error, the first cause first."""
        return "\n".join(_trace(ei[1])) if ei[1] is not None else ""


def _without_address(value: Any, request: Any) -> Any:
    path = request.path
    if value not in (path, path.encode("unicode_escape").decode("ascii")):
        return value
    match = request.resolver_match
    return f"/{match.route}" if match is not None else NO_ROUTE


def _trace(error: BaseException) -> list[str]:
    cause = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    lines = [*_trace(cause), "then"] if cause is not None else []
    frames = traceback.format_tb(error.__traceback__)
    kind = f"{type(error).__module__}.{type(error).__qualname__}"
    return [*lines, *(frame.rstrip("\n") for frame in frames), kind]
