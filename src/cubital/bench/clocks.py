"""
Clocks of a specimen: until when it clots, by when it must be spun, separated, tested.

What limits a test before the cells are off: its own demand (``handling.csv``), the programme's
(within two hours of the draw), and how long it keeps as whole blood; the earliest holds.  After,
how long it keeps as serum or plasma, from the spin.  The spin must have ended by a limit, so the
last moment to begin lies a run with run-up and brake earlier.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from cubital.bench.programmes import NO_CHOICES, Spin, spin_of
from cubital.bench.values import BenchSpecimen, Clock
from cubital.catalogue import Catalogue
from cubital.catalogue.model_reception import Examination
from cubital.errors import InputError
from cubital.finding import Finding, Reason, Severity

STILL_CLOTTING, SPUN_EARLY = "still-clotting", "spun-early"
"""Codes of findings: it asks before the spin, and is remembered after it."""
LOSSES = ("spin_by", "separate_by", "test_by")
"""Kinds of clock after which something is lost."""


@dataclass(frozen=True, slots=True)
class Clocks:
    """
    The clocks of one specimen.

    Args:
        spin: how it is spun, or that it is not.
        ready_at: when it may be spun at the earliest: clotted and at the bench; None when it is
            not waiting for a spin.
        clocks: by time.
        findings: of the programme, and tests of which nothing is known.
    """

    specimen: BenchSpecimen
    spin: Spin
    ready_at: datetime | None
    clocks: tuple[Clock, ...]
    findings: tuple[Finding, ...]

    @property
    def losses(self) -> tuple[Clock, ...]:
        """Clocks after which something is lost, by time."""
        return tuple(clock for clock in self.clocks if clock.kind in LOSSES)


def clocks_of(
    specimen: BenchSpecimen, catalogue: Catalogue, choices: Mapping[str, str] = NO_CHOICES
) -> Clocks:
    """
    Give the clocks of a specimen, by time.

    Raises:
        InputError: something that the catalogue does not hold, or times that cannot be.
    """
    _check(specimen)
    spin = spin_of(
        catalogue, specimen.container, specimen.tests, choices,
        material=specimen.material, portion=specimen.portion,
    )  # fmt: skip
    one = _Reckoning(specimen, spin, catalogue, choices)
    found = sorted(one.all(), key=lambda clock: (clock.at, clock.kind, clock.test))
    findings = (*spin.findings, *_spun_early(specimen, spin))
    return Clocks(specimen, spin, one.ready_at, tuple(found), findings)


def still_clotting(clocks: Clocks, at: datetime) -> Finding | None:
    """The rule that asks whether a tube may be spun then; None where it has clotted."""
    found = next((each for each in clocks.clocks if each.kind == "clotting"), None)
    if found is None or found.at <= at:
        return None
    sentence = (
        f"{found.specimen} must stand until {found.at.astimezone(at.tzinfo):%H:%M} to clot."
        " Wait, or have somebody decide."
    )
    reason = found.reason
    return Finding(
        STILL_CLOTTING, Severity.ASK, sentence, reason.source, found.specimen, reason.layer
    )


def _spun_early(specimen: BenchSpecimen, spin: Spin) -> tuple[Finding, ...]:
    """What somebody let happen stays beside the specimen, and beside what is poured off it."""
    early = specimen.early
    if early is None:
        return ()
    sentence = (
        f"{early.by} decided at {early.at:%H:%M} that it be spun before it had clotted: {early.why}"
    )
    source, layer = spin.reason.source, spin.reason.layer
    return (Finding(SPUN_EARLY, Severity.NOTE, sentence, source, specimen.code, layer),)


def _check(specimen: BenchSpecimen) -> None:
    where = f"specimen {specimen.code}"
    times = [specimen.collected_at, specimen.here_from, specimen.spun_at]
    known = [moment for moment in times if moment is not None]
    if any(moment.tzinfo is None for moment in known):
        raise InputError("a time has no time zone", where, "Give it with its offset.")
    if min(known) < specimen.collected_at:
        raise InputError("it was here before it was drawn", where, "Mend its times.")


class _Reckoning:
    """One specimen, with what its clocks are reckoned from."""

    def __init__(
        self,
        specimen: BenchSpecimen,
        spin: Spin,
        catalogue: Catalogue,
        choices: Mapping[str, str],
    ) -> None:
        self.specimen = specimen
        self.spin = spin
        self.catalogue = catalogue
        self.choices = choices
        waits = spin.programme is not None and (specimen.spins == 0 or specimen.again)
        self.waits = waits and not specimen.spinning
        if specimen.separated and not specimen.again:
            self.waits = False
        self.clots = self.waits and bool(self._stand_min()) and specimen.early is None
        ready = max(specimen.here_from, self._clotted_at()) if self.clots else specimen.here_from
        self.ready_at = ready if self.waits else None

    def _clotted_at(self) -> datetime:
        return self.specimen.collected_at + timedelta(minutes=self._stand_min())

    def _stand_min(self) -> int:
        programme = self.spin.programme
        stand = programme.stand_min if programme is not None else 0
        if stand and self.specimen.anticoagulated:
            return max(stand, self.catalogue.number("clot_anticoagulated_min"))
        return stand

    def all(self) -> Iterator[Clock]:
        """Every clock of the specimen."""
        if self.clots:
            yield self._clotting()
        for test in self.specimen.tests:
            yield from self._of_test(test)

    def _clotting(self) -> Clock:
        assert self.spin.programme is not None
        at = self._clotted_at()
        source = self.catalogue.setting("clot_anticoagulated_min")
        longer = self.specimen.anticoagulated and self._stand_min() > self.spin.programme.stand_min
        row = source if longer else self.spin.programme
        reason = self.catalogue.reason(row, f"It stands {self._stand_min()} min.")
        return Clock(self.specimen.code, "", "clotting", at, "It clots until then.", reason)

    def _of_test(self, test: str) -> Iterator[Clock]:
        name = name_of(self.catalogue, test)
        before = not self.specimen.separated
        if before and self.spin.programme is not None:
            limit = self._before(test)
            if limit is not None:
                at, reason = limit
                code = self.specimen.code
                if self.waits:
                    length = self.spin.programme.minutes + self.catalogue.number("spin_extra_min")
                    begin = at - timedelta(minutes=length)
                    sentence = f"Begin the spin by then, or {name} is lost."
                    yield Clock(code, test, "spin_by", begin, sentence, reason)
                sentence = f"Off the cells by then, or {name} is lost."
                yield Clock(code, test, "separate_by", at, sentence, reason)
            return
        limit = self._after(test)
        if limit is not None:
            sentence = f"Tested by then, or {name} is lost."
            yield Clock(self.specimen.code, test, "test_by", limit[0], sentence, limit[1])

    def _before(self, test: str) -> tuple[datetime, Reason] | None:
        """The earliest limit of a test before the cells are off."""
        programme = self.spin.programme
        assert programme is not None
        drawn = self.specimen.collected_at
        found = [self._keeps(test, "whole_blood", drawn)]
        for row in self.catalogue.handling(test, self.choices):
            if row.need == "spin_within_min":
                sentence = f"Spun within {row.value} min of the draw."
                at = drawn + timedelta(minutes=row.value)
                found.append((at, self.catalogue.reason(row, sentence)))
        if programme.spin_within_min:
            sentence = f"Spun within {programme.spin_within_min} min of the draw."
            at = drawn + timedelta(minutes=programme.spin_within_min)
            found.append((at, self.catalogue.reason(programme, sentence)))
        return min((one for one in found if one is not None), key=lambda one: one[0], default=None)

    def _after(self, test: str) -> tuple[datetime, Reason] | None:
        """Until when a test keeps as it stands now."""
        if self.spin.programme is None or self.specimen.material != "blood":
            return self._keeps(test, "whole_blood", self.specimen.collected_at)
        since = self.specimen.spun_at or self.specimen.here_from
        return self._keeps(test, "serum_plasma", since)

    def _keeps(self, test: str, matrix: str, since: datetime) -> tuple[datetime, Reason] | None:
        spoils = self.specimen.spoils.get(test)
        if spoils is not None and matrix == "whole_blood":
            return spoils, Reason("As its temperature on the way was read.", "way-memory")
        if self.specimen.material != "blood":
            return self._keeps_other(test, since)
        condition = self.specimen.condition
        for row in self.catalogue.stability(test, self.choices):
            if row.matrix == matrix and row.condition == condition:
                if row.keeps_h <= 0 and self._kept_otherwise(test):
                    return None
                what = "unseparated" if matrix == "whole_blood" else "separated"
                sentence = f"Keeps {row.keeps_h:g} h {what} ({_KEPT[condition]})."
                at = since + timedelta(hours=row.keeps_h)
                return at, self.catalogue.reason(row, sentence)
        return None

    def _kept_otherwise(self, test: str) -> bool:
        """On ice or at 37 °C, of which the table of storage says nothing."""
        rows = self.catalogue.handling(test, self.choices)
        return any(row.need in ("ice_slurry", "warm_37c") for row in rows)

    def _keeps_other(self, test: str, since: datetime) -> tuple[datetime, Reason] | None:
        row = next(row for row in self.catalogue.rows(Examination) if row.code == test)
        hours = row.fridge_h if self.specimen.condition == "fridge" else row.room_h
        sentence = f"Keeps {hours:g} h ({_KEPT[self.specimen.condition]})."
        return since + timedelta(hours=hours), self.catalogue.reason(row, sentence)


_KEPT = {"room": "room temperature", "fridge": "refrigerator", "frozen": "frozen"}


def name_of(catalogue: Catalogue, test: str) -> str:
    """The name of a test or examination; its code when the catalogue holds none."""
    if test in catalogue.tests:
        return catalogue.tests[test].name
    rows = (row.name for row in catalogue.rows(Examination) if row.code == test)
    return next(rows, test)


def all_clocks(
    specimens: Iterable[BenchSpecimen],
    catalogue: Catalogue,
    choices: Mapping[str, str] = NO_CHOICES,
) -> tuple[Clocks, ...]:
    """The clocks of several specimens, in their order."""
    return tuple(clocks_of(one, catalogue, choices) for one in specimens)
