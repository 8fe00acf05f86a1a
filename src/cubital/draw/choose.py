"""
Which containers, exactly: the fewest tubes, the least blood, the most preferred, in that order.

The question, in whole microlitres of blood:

- A **need** is one test: ``volume_ul`` of blood for it (yield counted), the kinds of container it
  may go into with the rank of each (0 best), and whether it wants a tube of its own.
- A **kind** is one way to fill one container: the container, the sharing group (station, cooling,
  spun or not), what a filled one takes (``fill_min_ul`` to ``fill_max_ul``: equal where the vacuum
  or the mark decides), the dead volume in blood, and how many tests may share it.
- An opened tube of kind k that serves the needs S draws
  ``max(fill_min_k, dead_k + sum(volume of S))`` and this may not exceed ``fill_max_k``;
  ``len(S) <= max_tests_k``; a need with ``own_tube`` is alone in its tube.
- Every need goes into exactly one tube.  No more tubes of one container than ``stock`` has
  (a container missing from ``stock`` is without limit).  The blood of all tubes together is at
  most ``blood_limit_ul``.
- Objectives, lexicographic: ``fewest_tubes`` = (tubes, blood, preference);
  ``least_blood`` = (blood, tubes, preference); preference is the sum of the ranks, smaller is
  better.  Among equals the answer is fixed (same input, same answer).

How it is found, module by module: ``choose_question`` takes the question apart where nothing is
shared; ``choose_part`` finds for one part the least blood of each number of tubes, level by level
(``choose_level``), from the multisets of kinds that bounds leave over (``choose_trim``,
``choose_model``, ``choose_bins``, ``choose_search``, ``choose_greedy``); each is filled exactly
(``choose_pair`` for two tubes, ``choose_rack`` for more, with ``choose_piles``,
``choose_packing``, ``choose_prices`` and ``choose_share``); ``choose_sum`` and ``choose_join`` put
the parts together under blood limit and stock (``choose_singles``: needs that are alone in their
tube); ``choose_fits`` finds what to leave out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from cubital.draw.choose_fits import served_set
from cubital.draw.choose_join import Servable, join
from cubital.draw.choose_question import read_question
from cubital.draw.choose_values import Aim, Choice, Kind, Need, Tube

__all__ = ["Aim", "Choice", "Kind", "Need", "Tube", "choose_containers", "choose_what_fits"]


def choose_containers(
    needs: Sequence[Need],
    kinds: Sequence[Kind],
    *,
    aim: Aim = Aim.FEWEST_TUBES,
    stock: Mapping[str, int] | None = None,
    blood_limit_ul: int | None = None,
) -> Choice | None:
    """
    Give the exact optimum, or None when no choice serves every need within stock and limit.

    Raises:
        ValueError: a need names a kind that is not there, or a volume is not positive.
    """
    question = read_question(needs, kinds, stock)
    points = join(question, aim, blood_limit_ul)
    if points is None:
        return None
    draws = question.shelf.draws
    tubes = [
        Tube(kind, tuple(sorted(inside)), draws(kind, sum([needs[i].volume_ul for i in inside])))
        for point in points
        for kind, inside in point.layout
    ]
    tubes.sort(key=lambda tube: (tube.kind, tube.needs))
    return Choice(
        tuple(tubes),
        sum([point.blood for point in points]),
        sum([point.preference for point in points]),
    )


def choose_what_fits(
    needs: Sequence[Need],
    priorities: Sequence[int],
    kinds: Sequence[Kind],
    *,
    aim: Aim = Aim.FEWEST_TUBES,
    stock: Mapping[str, int] | None = None,
    blood_limit_ul: int | None = None,
) -> tuple[Choice, tuple[int, ...]]:
    """
    Serve as much as fits, best by priority (1 first), exactly.

    The served set maximises, lexicographically: the number of tests of priority 1, then of
    priority 2, and so on; among equals the set whose tests stand earliest in ``needs``
    (lexicographically smallest tuple of served indices).  Gives the optimum choice for that set
    and the indices of the needs that are left out, in order.
    """
    if len(priorities) != len(needs):
        raise ValueError(f"{len(priorities)} priorities were given for {len(needs)} needs")
    limit = None if blood_limit_ul is None else max(0, blood_limit_ul)
    servable = Servable(read_question(needs, kinds, stock), limit)
    served = served_set(needs, priorities, servable)
    choice = choose_containers(
        [needs[i] for i in served], kinds, aim=aim, stock=stock, blood_limit_ul=limit
    )
    assert choice is not None  # a served set can be served, the empty one always
    tubes = tuple(
        replace(tube, needs=tuple(served[i] for i in tube.needs)) for tube in choice.tubes
    )
    left_out = tuple(i for i in range(len(needs)) if i not in set(served))
    return replace(choice, tubes=tubes), left_out
