"""
Finding a test or panel by what a person types or scans.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

from cubital.catalogue.model import Panel, Test


def fold(text: str) -> str:
    """A text as it is compared: no case, single blanks."""
    return " ".join(text.casefold().split())


def spoken(row: Test | Panel) -> tuple[str, ...]:
    """Every way to say a test or panel, folded: code, LOINC, name, short name, aliases."""
    short = row.short if isinstance(row, Test) else ""
    said = (row.code, row.loinc, row.name, short, *row.aliases.split(";"))
    return tuple(dict.fromkeys(word for word in map(fold, said) if word))


@dataclass(frozen=True, slots=True)
class Names:
    """
    What can be said, and what it means.

    Args:
        meaning: folded text -> code.
        entries: (code, name, kind, every way to say it), tests first, in file order.
    """

    meaning: Mapping[str, str]
    entries: tuple[tuple[str, str, str, tuple[str, ...]], ...]

    @classmethod
    def of(cls, tests: tuple[Test, ...], panels: tuple[Panel, ...]) -> Names:
        """Index tests and panels; a code goes before a name, a test before a panel."""
        entries = (
            *((row.code, row.name, "test", spoken(row)) for row in tests),
            *((row.code, row.name, "panel", spoken(row)) for row in panels),
        )
        meaning = {fold(entry[0]): entry[0] for entry in entries}
        for code, _, _, said in entries:
            for word in said:
                meaning.setdefault(word, code)
        return cls(meaning, entries)

    def find(self, text: str) -> str | None:
        """The code meant exactly by a text, or None."""
        return self.meaning.get(fold(text))

    def search(self, text: str, limit: int) -> tuple[tuple[str, str, str], ...]:
        """Entries that a half-typed text may mean, best first."""
        typed = fold(text)
        if not typed:
            return ()
        ranked = []
        for at, (code, name, kind, said) in enumerate(self.entries):
            rank = min(_rank(typed, word) for word in said)
            if rank < _NO:
                ranked.append((rank, at, (code, name, kind)))
        return tuple(entry for _, _, entry in sorted(ranked)[:limit])

    def suggest(self, text: str, limit: int) -> tuple[str, ...]:
        """Codes that look most like a text which means nothing."""
        close = difflib.get_close_matches(fold(text), self.meaning, n=3 * limit, cutoff=0.6)
        return tuple(dict.fromkeys(self.meaning[word] for word in close))[:limit]


_NO = 9


def _rank(typed: str, word: str) -> int:
    """0 the same, 1 begins so, 2 a later word begins so, 3 holds it, 9 none."""
    if word == typed:
        return 0
    if word.startswith(typed):
        return 1
    if f" {typed}" in word or f"-{typed}" in word:
        return 2
    return 3 if typed in word else _NO
