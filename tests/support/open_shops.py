"""The tests' shops in the words of the engine: the one place that knows both."""

import numpy as np
import shop_spec
from coatledger.computations.calendar import Closure, Hours, Opening
from coatledger.computations.simulate.forward import Simulated
from coatledger.computations.simulate.shop import (
    Batch,
    Hand,
    InHand,
    Likely,
    Needs,
    OpenShop,
    Operation,
    Place,
    Sprayer,
    Unforeseen,
)
from simpy_shop import Outcome

LEVELS = (0.5, 0.8, 0.9, 0.95)
NEEDS: dict[str, Needs] = {"person": "person", "spray": "spray", "nobody": "nobody"}
PLACES: dict[str, Place] = {"": "", "rack": "rack", "curing": "curing"}


def open_shop(shop: shop_spec.Shop) -> OpenShop:
    """Say the same shop to the engine."""
    openings = (Opening(o.weekday, o.opens, o.closes) for o in shop.openings)
    return OpenShop(
        now=shop.now,
        hours=Hours(shop.zone, tuple(openings)),
        people=tuple(Hand(p.id, tuple(map(_closure, p.absences))) for p in shop.people),
        batches=tuple(_batch(shop, batch) for batch in shop.batches),
        pick_up_weekdays=shop.pick_up_weekdays,
        cut_off=shop.cut_off,
        closures=tuple(map(_closure, shop.closures)),
        guns=tuple(Sprayer(gun.id, gun.holds) for gun in shop.guns),
        changeover_min=shop.changeover_min,
        booth_places=shop.booth_places,
        rack_places=shop.rack_places,
        curing_places=shop.curing_places,
        shop_share=shop.shop_share,
        away=Unforeseen(shop.away.a_day, shop.away.days),
        shut=Unforeseen(shop.shut.a_day, shop.shut.days),
    )


def agree(known: Outcome, found: Simulated) -> None:
    """Hold what the engine found against the independent model, at each level of each order.

    Both are samples. A level is moved by what the smaller one may be off, 4 standard errors, and
    within that the dates agree within 3 % of the lead.
    """
    runs, many = known.ready_min.shape[0], found.ready_min.shape[1]
    for column, order in enumerate(known.orders):
        theirs, mine = known.ready_min[:, column], found.ready_min[found.row(order)]
        lead = known.lead_days[:, column].mean() * 1440.0
        for level in LEVELS:
            off = 4.0 * (level * (1.0 - level) * (1.0 / runs + 1.0 / many)) ** 0.5
            at = np.quantile(mine, level, method="inverted_cdf")
            low = np.quantile(theirs, max(level - off, 0.0), method="inverted_cdf")
            high = np.quantile(theirs, min(level + off, 1.0), method="inverted_cdf")
            assert low - 0.03 * lead <= at <= high + 0.03 * lead, (order, level)


def _closure(stretch: shop_spec.Stretch) -> Closure:
    return Closure(stretch.starts_at, stretch.ends_at)


def _likely(span: shop_spec.Range) -> Likely:
    return Likely(span.p10, span.p50, span.p90)


def _batch(shop: shop_spec.Shop, batch: shop_spec.Batch) -> Batch:
    job = batch.in_hand
    return Batch(
        id=batch.id,
        order=batch.order,
        pieces=batch.pieces,
        ordered_at=batch.ordered_at,
        due=batch.due,
        operations=tuple(_operation(step) for step in batch.operations),
        position=batch.position,
        ready_in=_likely(batch.ready_in),
        ready_is_wait=batch.ready_is_wait,
        place_held=PLACES[batch.place_held],
        in_hand=None if job is None else _in_hand(job),
        left=batch.left,
        rounds_done=batch.rounds_done,
        joinery_lead=_likely(shop.joinery_lead),
        chance=batch.chance,
    )


def _in_hand(job: shop_spec.InHand) -> InHand:
    return InHand(person=job.person, minutes=job.minutes, spread=job.spread, gun=job.gun)


def _operation(step: shop_spec.Operation) -> Operation:
    return Operation(
        name=step.name,
        needs=NEEDS[step.needs],
        setup_min=step.setup_min,
        piece_min=step.piece_min,
        spread=step.spread,
        product=step.product,
        wait=_likely(step.wait) if step.wait else None,
        place=PLACES[step.place],
        rework_chance=step.rework_chance,
        scrap_chance=step.scrap_chance,
        back=step.back,
        rounds=step.rounds,
    )
