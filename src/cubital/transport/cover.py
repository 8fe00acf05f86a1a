"""Whether a temperature log is of this journey, and whether it holds all of it."""

from __future__ import annotations

import itertools
from datetime import datetime, timedelta
from statistics import median

from cubital.catalogue import Catalogue
from cubital.errors import InputError
from cubital.finding import Finding, Severity
from cubital.transport.values import TemperatureLog


def covered(
    log: TemperatureLog, sent: datetime, opened: datetime, catalogue: Catalogue
) -> tuple[Finding, ...]:
    """
    Say what part of a journey a log leaves out.

    Less than what counts as a gap between two readings is left unsaid.

    Args:
        log: as read.
        sent: when the box left.
        opened: when it was opened; now while it is on its way.
        catalogue: with the length of a gap.

    Raises:
        InputError: nothing of the log is of this journey: another file, or a clock that is wrong.
    """
    zone = sent.tzinfo
    if log.end < sent or log.begin > opened:
        raise InputError(
            f"The log runs from {_said(log.begin, sent)} to {_said(log.end, sent)}, and the box was"
            f" on its way from {_said(sent, sent)} to {_said(opened, sent)}",
            "log",
            "Choose the file of this journey, or set the logger's clock.",
        )
    between = [(b.at - a.at).total_seconds() for a, b in itertools.pairwise(log.readings)]
    usual = max(timedelta(seconds=median(between)), timedelta(minutes=1))
    most = usual * catalogue.decimal("logger_gap_factor")
    row = catalogue.setting("logger_gap_factor")
    found = []
    for missing, words, at in (
        (log.begin - sent, "begins", log.begin), (opened - log.end, "ends", log.end),
    ):  # fmt: skip
        if missing > most:
            side = "after the box left" if words == "begins" else "before the box was opened"
            minutes = missing / timedelta(minutes=1)
            sentence = (
                f"The log {words} at {at.astimezone(zone):%H:%M}, {minutes:.0f} min {side}: of that"
                " time nothing is known."
            )
            found.append(Finding("log-short", Severity.ASK, sentence, row.source, "", row.layer))
    return tuple(found)


def _said(moment: datetime, like: datetime) -> str:
    try:
        return f"{moment.astimezone(like.tzinfo):%Y-%m-%d %H:%M}"
    except OverflowError:  # the first or the last day that a calendar has
        return f"{moment:%Y-%m-%d %H:%M}"
