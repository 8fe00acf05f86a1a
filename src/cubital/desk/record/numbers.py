"""Running numbers: each is given once, for good."""

from __future__ import annotations

from cubital.desk.record.models import Counter


def next_number(name: str) -> int:
    """Give the next running number under a name; inside a transaction."""
    counter, _ = Counter.objects.select_for_update().get_or_create(name=name)
    counter.last += 1
    counter.save(update_fields=["last"])
    return counter.last
