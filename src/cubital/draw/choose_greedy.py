"""
Any answer for a part, quickly: a ceiling on the least blood.
"""

from __future__ import annotations

from cubital.draw.choose_model import Model


def some_blood(model: Model) -> int | None:
    """
    Blood of some way to serve the part, or None when this simple way fails.

    The needs with the least choice come first, the largest of them before the others; each goes
    where it adds least blood, into an open tube or a new one.
    """
    opened: list[list[int]] = []  # kind, load, count
    left = dict(model.caps)
    total = 0
    order = sorted(
        model.items, key=lambda item: (model.masks[item[2]].bit_count(), -item[0], item[3])
    )
    for volume, _, c, _ in order:
        mask = model.masks[c]
        best: tuple[int, int] | None = None
        for t, (j, load, count) in enumerate(opened):
            after = load + volume
            if mask >> j & 1 and after <= model.room[j] and count < model.slots[j]:
                more = max(0, after - model.free[j]) - max(0, load - model.free[j])
                if best is None or more < best[0]:
                    best = (more, t)
        for j, base in enumerate(model.base):
            if mask >> j & 1 and left.get(model.group[j], 1) > 0:
                # a new tube pays for its room too: a large one will serve others
                more = base + max(0, volume - model.free[j])
                if best is None or more < best[0]:
                    best = (more, -1 - j)
        if best is None:
            return None
        more, t = best
        total += more
        if t >= 0:
            opened[t][1] += volume
            opened[t][2] += 1
        else:
            j = -1 - t
            opened.append([j, volume, 1])
            if model.group[j] in left:
                left[model.group[j]] -= 1
    return total
