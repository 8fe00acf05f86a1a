"""Clocks of specimens, the worklist and its picture."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cubital.bench import (
    BenchSpecimen,
    Clocks,
    Early,
    all_clocks,
    clocks_of,
    picture,
    still_clotting,
    worklist,
)
from cubital.errors import InputError
from cubital.finding import Severity
from tests.bench.small import NOW, PRACTICE, minutes, ostrel, tube


def at(clocks: Clocks, kind: str, test: str = "") -> float | None:
    """Minutes from 09:00 at which a clock of a kind runs out."""
    found = [c.at for c in clocks.clocks if c.kind == kind and test in ("", c.test)]
    return (found[0] - NOW) / minutes(1) if found else None


def test_serum_clots_then_waits_for_two_hours() -> None:
    """Drawn at 08:20: clotted 08:50, separated by 10:20, so begun by 10:08."""
    found = clocks_of(tube("A", drawn=-40, here=-5), ostrel())
    assert at(found, "clotting") == -10
    assert at(found, "separate_by") == 80
    assert at(found, "spin_by") == 68
    assert found.ready_at == NOW - minutes(5)


def test_common_practice_has_the_same_clocks_for_serum() -> None:
    """30 min at least, within 2 h of the draw."""
    found = clocks_of(tube("A", drawn=-10), ostrel(), PRACTICE)
    assert (at(found, "clotting"), at(found, "separate_by")) == (20, 110)
    assert all(c.reason.source == "bench-common-practice" for c in found.clocks if not c.test)


def test_serum_on_an_anticoagulant_stands_longer() -> None:
    """An hour."""
    found = clocks_of(tube("A", drawn=-10, anticoagulated=True), ostrel())
    assert at(found, "clotting") == 50
    assert found.ready_at == NOW + minutes(50)
    plasma = clocks_of(tube("B", "citrate-2.7", ("pt-inr",), anticoagulated=True), ostrel())
    assert at(plasma, "clotting") is None


def test_the_earliest_of_several_limits_holds() -> None:
    """Potassium keeps an hour on its cells, under two of the programme; 30 min for ammonia."""
    mixed = clocks_of(tube("A", tests=("sodium", "potassium"), drawn=-20), ostrel())
    assert at(mixed, "separate_by", "potassium") == 40
    assert at(mixed, "separate_by", "sodium") == 100
    chosen = {"potassium-whole-blood": "hours_6"}
    longer = clocks_of(tube("A", tests=("potassium",), drawn=-20), ostrel(), chosen)
    assert at(longer, "separate_by") == 100
    ammonia = clocks_of(tube("B", "li-heparin-4", ("ammonia",), drawn=-10), ostrel())
    assert at(ammonia, "separate_by") == 20


def test_a_temperature_log_says_when_it_spoils() -> None:
    """What was read on the way stands in for the table."""
    spoils = {"potassium": NOW + minutes(15)}
    found = clocks_of(tube("A", tests=("potassium",), spoils=spoils), ostrel())
    assert at(found, "separate_by") == 15


def test_whole_blood_is_only_tested() -> None:
    """A blood count has one clock."""
    found = clocks_of(tube("A", "edta-3", ("fbc",), drawn=-40), ostrel())
    assert [c.kind for c in found.clocks] == ["test_by"]
    assert found.ready_at is None


def test_once_separated_it_keeps_as_serum() -> None:
    """From the end of the spin, as it is kept now."""
    spun = tube("A", tests=("potassium",), spins=1, spun_at=NOW, separated=True)
    kept = replace(spun, condition="fridge")
    for specimen, condition in ((spun, "room"), (kept, "fridge")):
        row = next(
            r for r in ostrel().stability("potassium")
            if (r.matrix, r.condition) == ("serum_plasma", condition)
        )  # fmt: skip
        found = clocks_of(specimen, ostrel())
        assert [c.kind for c in found.clocks] == ["test_by"]
        assert found.clocks[0].at == NOW + timedelta(hours=row.keeps_h)


def test_spun_without_a_gel_it_must_still_come_off_its_cells() -> None:
    """No more spin, but the same limit."""
    found = clocks_of(tube("A", "plain-6", spins=1, spun_at=NOW), ostrel())
    assert [c.kind for c in found.clocks] == ["separate_by"]
    assert found.ready_at is None


def test_what_turns_in_a_rotor_waits_for_none() -> None:
    """Only the limit of separation goes on."""
    found = clocks_of(tube("A", spinning=True), ostrel())
    assert found.ready_at is None
    assert "spin_by" not in {c.kind for c in found.clocks}


def test_kept_on_ice_the_table_of_rooms_says_nothing() -> None:
    """A cryoglobulin must not cool, and has its hour to the spin."""
    found = clocks_of(tube("A", "plain-6", ("cryoglobulin",), drawn=-20), ostrel())
    assert at(found, "separate_by") == 40


def test_urine_has_its_own_table() -> None:
    """Two hours at room temperature, four in the refrigerator."""
    urine = tube("U", "", ("urine-sediment",), material="urine", drawn=-60)
    assert at(clocks_of(urine, ostrel()), "separate_by") == 60
    strip = tube("V", "", ("urine-strip",), material="urine", drawn=-60, condition="fridge")
    assert at(clocks_of(strip, ostrel()), "test_by") == 180


def test_times_that_cannot_be() -> None:
    """Here before it was drawn, or without a time zone."""
    with pytest.raises(InputError, match="before it was drawn"):
        clocks_of(tube("A", drawn=0, here=-5), ostrel())
    naive = replace(tube("A"), here_from=NOW.replace(tzinfo=None))
    with pytest.raises(InputError, match="no time zone"):
        clocks_of(naive, ostrel())


# ------------------------------------------------------------------ the worklist


def lines(*specimens: BenchSpecimen, now: float = 0):  # type: ignore[no-untyped-def]
    """The worklist of specimens."""
    return worklist(all_clocks(specimens, ostrel()), ostrel(), now=NOW + minutes(now))


def test_what_is_lost_first_stands_first() -> None:
    """Heparin aPTT, then potassium, then sodium, then a count; what is lost comes last."""
    found = lines(
        tube("count", "edta-3", ("fbc",)),
        tube("sodium"),
        tube("gone", tests=("potassium",), drawn=-90),
        tube("aptt", "citrate-2.7", ("aptt-heparin",), drawn=-30),
        tube("potassium", tests=("potassium", "ldh"), drawn=-20),
    )
    assert [line.specimen for line in found] == ["aptt", "potassium", "sodium", "count", "gone"]
    assert [line.level for line in found] == ["now", "soon", "later", "later", "lost"]
    assert found[0].sentence == (
        "Spin by 09:13 (13 min left), or aPTT on unfractionated heparin is lost."
    )
    assert found[1].sentence.startswith("Clots until 09:10. Spin by 09:28 (28 min left), or ")
    assert found[-1].sentence == "Too late: Potassium is lost."


def test_a_lost_test_does_not_hide_the_others_of_its_tube() -> None:
    """Potassium is gone, sodium has a limit to come."""
    (line,) = lines(tube("A", tests=("potassium", "sodium"), drawn=-70))
    assert (line.gone, line.tests) == (("potassium",), ("sodium",))
    assert line.lost_at == NOW + minutes(38)
    assert line.level == "soon"
    assert "Too late: Potassium is lost." in line.sentence


def test_levels_follow_the_settings() -> None:
    """15 min and 60 min before the last moment, and after it."""
    specimen = tube("A", drawn=-40)  # begun by 68
    found = [lines(specimen, now=now)[0].level for now in (0, 7, 8, 52, 53, 68, 69)]
    assert found == ["later", "later", "soon", "soon", "now", "now", "lost"]


def test_the_last_moment_is_not_too_late() -> None:
    """At the minute itself there is still something to do."""
    (line,) = lines(tube("A", drawn=-40), now=68)
    assert (line.gone, line.tests) == ((), ("sodium",))
    assert "(0 min left)" in line.sentence


def test_no_limit_known_is_said() -> None:
    """A frozen blood count has no figure."""
    (line,) = lines(tube("A", "edta-3", ("cd4",), condition="frozen"))
    known = [
        r for r in ostrel().stability("cd4") if (r.matrix, r.condition) == ("whole_blood", "frozen")
    ]
    assert (line.level == "open") == (known == [])


SPECIMENS = st.builds(
    lambda number, kind, drawn, stay: tube(
        f"S{number}", kind[0], kind[1], drawn=-drawn, here=-drawn + stay
    ),
    st.integers(0, 999),
    st.sampled_from([
        ("gel-5", ("sodium", "potassium")),
        ("citrate-2.7", ("pt-inr", "aptt-heparin")),
        ("edta-3", ("fbc",)),
        ("plain-6", ("digoxin",)),
        ("li-heparin-4", ("ammonia",)),
    ]),
    st.integers(0, 400),
    st.integers(0, 60),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(SPECIMENS, max_size=8, unique_by=lambda s: s.code))
def test_the_worklist_and_its_picture_hold_together(specimens: list[BenchSpecimen]) -> None:
    """Each specimen once, in the order of loss; bars fill two hours without gap or overlap."""
    found = lines(*specimens)
    assert sorted(line.specimen for line in found) == sorted(one.code for one in specimens)
    ahead = [line.lost_at for line in found if line.lost_at is not None]
    assert ahead == sorted(ahead)
    assert found[: len(ahead)] == tuple(line for line in found if line.lost_at is not None)
    for line in found:
        assert (line.level == "lost") == (line.lost_at is None and bool(line.gone))
    for line, bar in zip(found, picture(found, now=NOW), strict=True):
        edges = [edge for s in bar.segments for edge in (s.from_min, s.to_min)]
        assert edges[0] == 0
        assert edges[-1] == 120
        assert edges[1:-1:2] == edges[2::2]
        kinds = [segment.kind for segment in bar.segments]
        lost = bar.level == "lost" or line.lost_at == NOW
        assert (kinds == ["lost"]) == lost


def test_what_still_clots_asks_until_it_has_clotted() -> None:
    """Drawn at 08:50 it asks at 09:00, and not at 09:20; plasma never asks."""
    found = clocks_of(tube("A", drawn=-10), ostrel())
    asks = still_clotting(found, NOW)
    assert asks is not None
    assert (asks.code, asks.severity, asks.subject) == ("still-clotting", Severity.ASK, "A")
    assert "must stand until 09:20" in asks.sentence
    assert still_clotting(found, NOW + minutes(20)) is None
    plasma = clocks_of(tube("B", "citrate-2.7", ("pt-inr",), drawn=-10), ostrel())
    assert still_clotting(plasma, NOW) is None


def test_a_named_person_lets_it_be_spun_at_once() -> None:
    """It is ready where it stands, clots no more, keeps its other clocks, and the note stays."""
    asked = tube("A", drawn=-10)
    early = replace(asked, early=Early("Sade Ellun", NOW, "the theatre waits"))
    before, after = clocks_of(asked, ostrel()), clocks_of(early, ostrel())
    assert before.ready_at == NOW + minutes(20)
    assert after.ready_at == asked.here_from
    assert after.losses == before.losses
    assert [c.kind for c in after.clocks if c.kind == "clotting"] == []
    for stands in (early, replace(early, spins=1, spun_at=NOW + minutes(12), separated=True)):
        (note,) = [f for f in clocks_of(stands, ostrel()).findings if f.code == "spun-early"]
        assert note.severity is Severity.NOTE
        assert "Sade Ellun decided at 09:00" in note.sentence
        assert note.sentence.endswith("the theatre waits")
