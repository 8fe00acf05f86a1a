"""
Tests that take several containers: blood cultures, whole sets, volumes beyond one container.

They are planned beside the solver, and their blood counts against the same limit.  Volumes in µL.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cubital.catalogue.model import AcceptedAdditive, CultureVolume, Setting
from cubital.draw.needs import BROTH, Asked, dead_blood_ul, rank_of
from cubital.draw.offers import VACUUM, Offer, Offers
from cubital.draw.pour import (
    AEROBIC,
    ANAEROBIC,
    CULTURES,
    PAEDIATRIC,
    SPECIMEN,
    Content,
    Pour,
    Variant,
)
from cubital.draw.scene import Scene
from cubital.finding import Finding, Severity

NOTHING_SHORT, NO_ANAEROBIC, ONE_SET, ONE_BOTTLE = 0, 1, 2, 3


def is_set(asked: Asked) -> bool:
    """Whether a test is planned as a set, beside the solver."""
    return asked.state == BROTH or asked.test.containers_needed > 1


def variants(asked: Asked, offers: Offers) -> tuple[Variant, ...]:
    """The ways to draw a set, the fullest first; () when nothing on offer serves it."""
    found = _cultures if asked.state == BROTH else _whole_sets
    return _on_hand(found(asked, offers), offers.scene)


def split(asked: Asked, offers: Offers) -> tuple[Variant, ...]:
    """The ways to draw a test whose volume no single container holds: over several of one kind."""
    found = []
    for accepted, offer, dead in _accepted_offers(asked, offers):
        room = offer.fill_max_ul - dead
        if room <= 0:
            continue
        count = -(-asked.volume_ul // room)
        shares = _shares(asked.volume_ul, count)
        pours = tuple(
            _pour(asked, offer, share, dead, nth) for nth, share in enumerate(shares, start=1)
        )
        found.append(Variant(asked, pours, rank_of(accepted, offer) * count))
    return _on_hand(found, offers.scene)


def _shares(volume_ul: int, count: int) -> tuple[int, ...]:
    """A volume in ``count`` whole parts that differ by at most 1 µL."""
    base, more = divmod(volume_ul, count)
    return tuple(base + (1 if nth < more else 0) for nth in range(count))


def _whole_sets(asked: Asked, offers: Offers) -> Iterable[Variant]:
    count = asked.test.containers_needed
    for accepted, offer, dead in _accepted_offers(asked, offers):
        if dead + asked.volume_ul <= offer.fill_max_ul:
            pours = tuple(
                _pour(asked, offer, asked.volume_ul, dead, nth) for nth in range(1, count + 1)
            )
            yield Variant(asked, pours, rank_of(accepted, offer) * count)


def _accepted_offers(asked: Asked, offers: Offers) -> Iterable[tuple[AcceptedAdditive, Offer, int]]:
    for accepted in asked.accepted:
        for offer in offers.of(accepted.additive):
            form = offer.container.form
            yield (
                accepted,
                offer,
                dead_blood_ul(asked.station.code, form, asked.state, offers.scene),
            )


def _pour(asked: Asked, offer: Offer, volume_ul: int, dead_ul: int, nth: int) -> Pour:
    full = asked.filled_whole and offer.way != VACUUM
    least = offer.fill_max_ul if full else offer.fill_min_ul
    return Pour(
        offer=offer,
        purpose=SPECIMEN,
        contents=(Content(asked, volume_ul),),
        fill_ul=max(least, dead_ul + volume_ul),
        dead_ul=dead_ul,
        nth=nth,
        filled_whole=asked.filled_whole,
    )


def _on_hand(found: Iterable[Variant], scene: Scene) -> tuple[Variant, ...]:
    """The ways for which the stock holds enough, the fullest first, then the fewest containers."""
    held = (one for one in found if scene.stock.holds(one.taken))
    return tuple(sorted(held, key=lambda v: (v.shortfall, len(v.pours), v.blood_ul, v.rank)))


# ---------------------------------------------------------------- blood culture


def culture_row(scene: Scene) -> tuple[CultureVolume, Finding | None]:
    """
    The row of culture_volumes.csv for the weight.

    Where the weight is not known, that of the lightest for a small child and that of the heaviest
    for anybody else, with a finding.
    """
    rows = sorted(
        (
            row
            for row in scene.catalogue.rows(CultureVolume)
            if scene.catalogue.holds(row.choice, scene.choices)
        ),
        key=lambda row: row.weight_from_g,
    )
    weight = scene.patient.weight_g
    if weight is not None:
        for row in rows:
            if row.weight_from_g <= weight < row.weight_to_g:
                return row, None
    small = scene.aim.small_containers if weight is None else weight < rows[0].weight_from_g
    row = rows[0] if small else rows[-1]
    who = "the lightest child" if small else "an adult"
    sentence = f"The weight is not known, so the culture takes the volume of {who}: weigh or ask."
    severity = Severity.ASK if small else Severity.NOTE
    return row, Finding(
        "culture-weight-unknown", severity, sentence, row.source, "culture", row.layer
    )


def _cultures(asked: Asked, offers: Offers) -> tuple[Variant, ...]:
    row, unknown = culture_row(offers.scene)
    bottles = _bottles(asked, offers)
    if not bottles:
        return ()
    volumes = [row.first_set_ul] + [row.second_set_ul] * (row.sets - 1)
    full, missing = _culture_pours(asked, offers.scene, bottles, row, volumes, row.bottles_per_set)
    found = [_culture(asked, full, NO_ANAEROBIC if missing else NOTHING_SHORT, row, unknown)]
    if len(volumes) > 1:
        first, _ = _culture_pours(
            asked, offers.scene, bottles, row, volumes[:1], row.bottles_per_set
        )
        found.append(_culture(asked, first, ONE_SET, row, unknown))
    if row.bottles_per_set > 1:
        share = [row.first_set_ul // row.bottles_per_set]
        rule = offers.scene.catalogue.setting("culture_first_short")
        kind = ANAEROBIC if rule.value == "anaerobic" else AEROBIC
        one, _ = _culture_pours(asked, offers.scene, bottles, row, share, 1, kind=kind)
        found.append(_culture(asked, one, ONE_BOTTLE, rule, unknown))
    return tuple(variant for variant in found if variant.pours)


def _bottles(asked: Asked, offers: Offers) -> dict[str, list[Offer]]:
    """Offered bottles by purpose, the preferred additive first."""
    found: dict[str, list[Offer]] = {}
    for accepted in asked.accepted:
        purpose = accepted.additive if accepted.additive in CULTURES else AEROBIC
        found.setdefault(purpose, []).extend(offers.of(accepted.additive))
    return {purpose: some for purpose, some in found.items() if some}


def _culture_pours(
    asked: Asked,
    scene: Scene,
    bottles: dict[str, list[Offer]],
    row: CultureVolume,
    sets: Sequence[int],
    per_set: int,
    *,
    kind: str = AEROBIC,
) -> tuple[tuple[Pour, ...], bool]:
    """
    The bottles of some sets, and whether a bottle is missing that the set should have.

    ``kind`` is that of the bottle where a set has one.
    """
    pours: list[Pour] = []
    missing = False
    for nth, volume in enumerate(sets, start=1):
        wanted = [kind] if per_set == 1 else [AEROBIC, ANAEROBIC] + [AEROBIC] * (per_set - 2)
        cautions: tuple[str, ...] = ()
        if len(sets) > 1:
            cautions = (f"Set {nth} of {len(sets)}: each from its own puncture, at another site.",)
        for purpose in wanted:
            chosen = _bottle_for(purpose, volume // per_set, bottles)
            if chosen is None:
                missing = True
                continue
            pours.append(_bottle(asked, scene, row, chosen, volume // per_set, nth, cautions))
    return tuple(pours), missing


def _bottle_for(
    purpose: str, volume_ul: int, bottles: dict[str, list[Offer]]
) -> tuple[str, Offer] | None:
    """
    A bottle for a volume.

    One of the purpose that takes it within its limits, else a paediatric one that does, else the
    one that comes nearest.
    """
    options = (purpose,) if purpose == ANAEROBIC else (purpose, PAEDIATRIC)
    for kind in options:
        for offer in bottles.get(kind, ()):
            if offer.accept_min_ul <= volume_ul <= offer.container.nominal_ul:
                return kind, offer
    nearest = [
        (abs(offer.container.nominal_ul - volume_ul), kind, offer)
        for kind in options
        for offer in bottles.get(kind, ())
    ]
    if not nearest:
        return None
    _, kind, offer = min(nearest, key=lambda one: one[0])
    return kind, offer


def _bottle(
    asked: Asked,
    scene: Scene,
    row: CultureVolume,
    chosen: tuple[str, Offer],
    volume_ul: int,
    nth: int,
    cautions: tuple[str, ...],
) -> Pour:
    purpose, offer = chosen
    fill = min(volume_ul, offer.container.nominal_ul)
    weight = scene.patient.weight_g
    who = "this patient" if weight is None else f"{weight / 1000:g} kg"
    sets = "1 set" if row.sets == 1 else f"{row.sets} sets"
    sentence = f"Blood for culture of {who}: {sets}, {fill / 1000:g} mL in this bottle."
    if fill < offer.accept_min_ul:
        least = offer.accept_min_ul / 1000
        cautions = (*cautions, f"Less than the {least:g} mL this bottle is made for: say so.")
    return Pour(
        offer=offer,
        purpose=purpose,
        contents=(Content(asked, fill),),
        fill_ul=fill,
        nth=nth,
        cautions=cautions,
        reasons=(scene.catalogue.reason(row, sentence),),
    )


def _culture(
    asked: Asked,
    pours: tuple[Pour, ...],
    shortfall: int,
    row: CultureVolume | Setting,
    unknown: Finding | None,
) -> Variant:
    words = {
        NO_ANAEROBIC: "no anaerobic bottle is on hand, so only the aerobic part is drawn",
        ONE_SET: "only the first set fits",
        ONE_BOTTLE: "only one bottle fits",
    }
    finding = unknown
    if shortfall:
        finding = Finding(
            "culture-short",
            Severity.ASK,
            f"{asked.test.name} gets less blood than the weight asks for: {words[shortfall]}. "
            "Tell the requester.",
            row.source,
            asked.test.code,
            row.layer,
        )
    return Variant(asked, pours, rank=0, shortfall=shortfall, finding=finding)
