"""
What of a part's kinds can be of use: room, places, tubes, and which kinds are beaten everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping

from cubital.draw.choose_question import NeedClass, Shelf


def useful(mine: list[NeedClass], room: int, slots: int) -> tuple[int, int, int]:
    """
    Room and places of a kind that its needs can use, and the most tubes of it that can be of use.

    Two tubes of a kind whose needs fit into one are never better than that one.  So at most one
    tube is both half empty and half free of tests; every other takes more than half of the room
    or of the places.
    """
    count = sum(len(one.members) for one in mine)
    volume = sum(member[0] for one in mine for member in one.members)
    most = 1
    if volume > room:
        # what the volumes cannot reach is of no use
        reach = 1
        for one in mine:
            for member in one.members:
                reach |= reach << member[0]
        room = (reach & ((1 << room + 1) - 1)).bit_length() - 1
        most += volume // (room // 2 + 1)
    if count > slots:
        most += count // (slots // 2 + 1)
        volumes = sorted((member[0] for one in mine for member in one.members), reverse=True)
        volume = sum(volumes[:slots])
    return min(room, volume), min(slots, count), min(most, count)


def kept_kinds(
    classes: list[NeedClass], shelf: Shelf, caps: Mapping[str, int]
) -> list[int]:
    """The kinds of a part without those that another kind beats everywhere."""
    members: dict[int, list[int]] = {}
    for c, one in enumerate(classes):
        for kind in one.ranks:
            members.setdefault(kind, []).append(c)
    kept: list[int] = []
    facts: dict[int, tuple[int, int, int, int, int]] = {}
    for kind in sorted(members, key=lambda k: (shelf.base[k], k)):
        container = shelf.container[kind]
        if caps.get(container, 1) <= 0:
            continue
        mine = [classes[c] for c in members[kind]]
        room, slots, most = useful(mine, shelf.room[kind], shelf.slots[kind])
        bits = sum(1 << c for c in members[kind])
        facts[kind] = (bits, shelf.base[kind], shelf.draws(kind, room), room, slots)
    for kind in facts:
        if not any(
            other != kind and _beats(other, kind, facts, classes, shelf, caps) for other in facts
        ):
            kept.append(kind)
    return kept


def _beats(
    other: int,
    kind: int,
    facts: dict[int, tuple[int, int, int, int, int]],
    classes: list[NeedClass],
    shelf: Shelf,
    caps: Mapping[str, int],
) -> bool:
    """Whether a tube of ``other`` can stand wherever one of ``kind`` stands, and is no worse."""
    bits, base, full, room, slots = facts[kind]
    obits, obase, _, oroom, oslots = facts[other]
    # draws are convex: compared at nothing and at the fullest, they are compared everywhere
    if obase > base or bits & ~obits:
        return False
    if shelf.slots[other] < slots or shelf.room[other] < room:
        return False
    ofull = shelf.draws(other, room)
    if ofull > full:
        return False
    container = shelf.container[other]
    if container in caps and container != shelf.container[kind]:
        return False
    if obase < base and ofull < full:
        return True
    ranks = [(one.ranks[other], one.ranks[kind]) for one in classes if kind in one.ranks]
    if any(a > b for a, b in ranks):
        return False
    same = obase == base and ofull == full and obits == bits and all(a == b for a, b in ranks)
    if not same:
        return True
    # equal in all that counts: the one with more room and places, then the one that stands first
    return (-shelf.room[other], -shelf.slots[other], other) < (
        -shelf.room[kind], -shelf.slots[kind], kind)  # fmt: skip
