"""
What makes the figures of a month doubtful: each in one sentence, at the head of the report.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from cubital.catalogue import Catalogue
from cubital.finding import Finding, Severity
from cubital.indicators.ask import Key, Lake, Tally
from cubital.indicators.lake import Files
from cubital.indicators.report_values import TimeLine
from cubital.indicators.say import joined, some

SOURCE = "quality-practice"


def doubts(
    lake: Lake,
    files: Files,
    here: Mapping[Key, Tally],
    gone: Mapping[Key, Tally],
    times: Sequence[TimeLine],
    catalogue: Catalogue,
) -> tuple[Finding, ...]:
    """
    Say what the reader must know.

    Args:
        lake: of the month.
        files: of the whole lake.
        here: what each place has in the month.
        gone: what places had the month before that have nothing now.
        times: of the month.
        catalogue: with the policy.
    """
    return (
        *_unfinished(files),
        *_places(lake, here, gone, catalogue),
        *_reception(lake, here),
        *_impossible(times),
        *_late(here, catalogue),
        *_names(lake, files),
    )


def _note(code: str, sentence: str, subject: str = "") -> Finding:
    return Finding(code, Severity.NOTE, sentence, SOURCE, subject)


def _name(lake: Lake, key: Key) -> str:
    return lake.site_now(str(key[0])).name


def _unfinished(files: Files) -> Iterator[Finding]:
    if files.unfinished:
        yield _note(
            "export-unfinished",
            f"An export was broken off: {some(len(files.unfinished), 'file')} half-written and not"
            f" read ({files.unfinished[0]}). Export the events again.",
        )


def _places(
    lake: Lake, here: Mapping[Key, Tally], gone: Mapping[Key, Tally], catalogue: Catalogue
) -> Iterator[Finding]:
    few = catalogue.number("indicator_few")
    for key, each in sorted(here.items()):
        if 0 < each.specimens < few:
            yield _note(
                "few-at-place",
                f"{_name(lake, key)} has {some(each.specimens, 'specimen')}: its counts are shown,"
                " and never compared.",
                str(key[0]),
            )
    for key, each in sorted(gone.items()):
        if each.specimens:
            yield _note(
                "place-silent",
                f"{_name(lake, key)} has no specimens this month; it had"
                f" {each.specimens:,} the month before. Is its export missing?",
                str(key[0]),
            )


def _reception(lake: Lake, here: Mapping[Key, Tally]) -> Iterator[Finding]:
    for key, each in sorted(here.items()):
        if each.specimens and not each.received:
            yield _note(
                "nothing-received",
                f"No specimen of {_name(lake, key)} was received at a desk: what the reception"
                " finds is not counted there.",
                str(key[0]),
            )


def _impossible(times: Sequence[TimeLine]) -> Iterator[Finding]:
    for line in times:
        for code, name, each in line.sites:
            if each.backwards:
                yield _note(
                    "time-backwards",
                    f"{line.what.name}: {some(each.backwards, 'time')} at {name}"
                    f" {'runs' if each.backwards == 1 else 'run'} backwards, so a clock was wrong"
                    " or set back; look at the clocks there.",
                    code,
                )
            if each.too_long:
                yield _note(
                    "time-too-long",
                    f"{line.what.name}: {some(each.too_long, 'time')} at {name}"
                    f" {'is' if each.too_long == 1 else 'are'} too long to be true; look for typing"
                    " errors.",
                    code,
                )


def _late(here: Mapping[Key, Tally], catalogue: Catalogue) -> Iterator[Finding]:
    late = sum(each.late for each in here.values())
    if late:
        yield _note(
            "events-late",
            f"{some(late, 'specimen')} of this month became known more than"
            f" {catalogue.number('indicator_late_h')} h after the fact; a report made earlier did"
            " not count them so.",
        )


def _names(lake: Lake, files: Files) -> Iterator[Finding]:
    codes: dict[str, list[str]] = {}
    for site in files.sites.values():
        if not site.now:
            codes.setdefault(site.name, []).append(site.code)
    used = {part.site for part in files.parts}
    for name, each in sorted(codes.items()):
        both = sorted(code for code in each if code in used)
        if len(both) > 1:
            yield _note(
                "place-twice",
                f"{joined(both)} are both called {name} and are counted apart; where it is one"
                " place under a new code, write the new code beside the old one in sites.csv.",
                both[0],
            )
    for site in sorted(files.sites.values(), key=lambda one: one.code):
        if site.now and site.code in used:
            yield _note(
                "place-renamed",
                f"What is on record under {site.code} counts as {lake.site_now(site.code).name}"
                f" ({site.now}).",
                site.now,
            )
    unnamed = sorted(code for code in used if code not in files.sites)
    if unnamed:
        yield _note(
            "place-unnamed",
            f"{joined(unnamed)} {'is' if len(unnamed) == 1 else 'are'} in no list of places; the"
            " code is shown instead of a name.",
        )
