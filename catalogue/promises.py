"""Wood promised to commissions: holds and allotments of the inventory, tied to their piece.

Two slabs of a pair are promised together or not at all.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils import timezone

from catalogue.models import Commission, CommissionHold, Stage
from inventory import holds
from inventory.holds import PromiseProblem
from inventory.models import Hold, HoldKind, Person, Slab

USUAL_DAYS = 14
MOST_SLABS = 2


class NotOpen(PromiseProblem):
    """The commission is done or dropped."""


class NotItsWood(PromiseProblem):
    """The slab is not promised to this commission."""


class WrongNumber(PromiseProblem):
    """No slab, or more than a pair."""


def usual_last_day(on: date) -> date:
    return on + timedelta(days=USUAL_DAYS)


def promised_to(commission: Commission) -> list[Hold]:
    """Active holds and allotments of the commission, in the order they were made."""
    active = Hold.objects.active().filter(commission_link__commission=commission)
    related = active.select_related("slab__species", "slab__place", "slab__bay", "slab__log")
    return list(related.select_related("made_by").order_by("made_at", "pk"))


@transaction.atomic
def hold(
    commission: Commission, slabs: Iterable[Slab], *, until: date, by: Person, now: datetime
) -> list[Hold]:
    """Keep one slab or a pair for the commission; all or none.

    Raises:
        PromiseProblem: with the sentence to show; nothing is held then.
    """
    wanted = _in_order(commission, slabs)
    label = commission.promised_to
    made = [holds.place_hold(s, label=label, until=until, by=by, now=now) for s in wanted]
    _tie(commission, made)
    return made


@transaction.atomic
def allot(
    commission: Commission, slabs: Iterable[Slab], *, by: Person, now: datetime
) -> list[Hold]:
    """Give one slab or a pair to the commission, free ones or its own holds; all or none.

    Raises:
        PromiseProblem: with the sentence to show; nothing is allotted then.
    """
    wanted = _in_order(commission, slabs)
    own = _own_holds(commission, wanted, now)
    made = [_allot_one(commission, slab, own.get(slab.pk), by, now) for slab in wanted]
    _tie(commission, made)
    return made


@transaction.atomic
def release(commission: Commission, slabs: Iterable[Slab], *, by: Person, now: datetime) -> None:
    """Let go of slabs promised to the commission; all or none.

    Raises:
        PromiseProblem: one of them is not, or no longer, promised to it.
    """
    for promise in _own(commission, slabs):
        holds.release(promise, by=by, now=now)


@transaction.atomic
def extend(
    commission: Commission, slabs: Iterable[Slab], *, until: date, by: Person, now: datetime
) -> None:
    """Give the commission's holds on these slabs another last day; all or none.

    Raises:
        PromiseProblem: with the sentence to show.
    """
    for promise in _own(commission, slabs):
        holds.extend(promise, until=until, by=by, now=now)


def _in_order(commission: Commission, slabs: Iterable[Slab]) -> list[Slab]:
    """The slabs in the order in which everybody locks them, so that no two wait for each other."""
    wanted = sorted({slab.pk: slab for slab in slabs}.values(), key=lambda slab: slab.pk)
    if not 1 <= len(wanted) <= MOST_SLABS:
        raise WrongNumber("Choose one slab, or the two of a pair.")
    if commission.stage != Stage.OPEN:
        raise NotOpen(f"{commission.title} is {commission.get_stage_display().lower()}.")
    return wanted


def _own_holds(commission: Commission, slabs: list[Slab], now: datetime) -> dict[int, Hold]:
    """The commission's own holds on these slabs, those that lapsed unnoticed left out."""
    today = timezone.localtime(now).date()
    active = Hold.objects.active().filter(
        kind=HoldKind.HOLD, slab__in=slabs, until__gte=today, commission_link__commission=commission
    )
    return {promise.slab_id: promise for promise in active.select_related("slab")}


def _allot_one(
    commission: Commission, slab: Slab, own: Hold | None, by: Person, now: datetime
) -> Hold:
    if own is not None:
        return holds.allot_held(own, by=by, now=now)
    return holds.allot(slab, label=commission.promised_to, by=by, now=now)


def _own(commission: Commission, slabs: Iterable[Slab]) -> list[Hold]:
    """The active promises to this commission on each of the slabs."""
    wanted = sorted(slabs, key=lambda slab: slab.pk)
    active = Hold.objects.active().filter(slab__in=wanted, commission_link__commission=commission)
    found = {promise.slab_id: promise for promise in active.select_related("slab")}
    for slab in wanted:
        if slab.pk not in found:
            raise NotItsWood(f"{slab} is not kept for {commission.title} any more.")
    return [found[slab.pk] for slab in wanted]


def _tie(commission: Commission, made: list[Hold]) -> None:
    links = [CommissionHold(commission=commission, hold=promise) for promise in made]
    CommissionHold.objects.bulk_create(links)


def name_again(commission: Commission) -> int:
    """Keep the words on its active promises in step with a renamed commission or client."""
    active = Hold.objects.active().filter(commission_link__commission=commission)
    return active.exclude(label=_label(commission)).update(label=_label(commission))


def _label(commission: Commission) -> str:
    return commission.promised_to[:160]
