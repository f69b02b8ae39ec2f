"""Whose a slab is: holds, allotments, and slabs that go. The only writer of standing.

Every operation locks the slab's row first, so two people at once queue on PostgreSQL as they do on
SQLite; the constraint `slab_promised_once` stands behind that as the last word.
"""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory import derive, ledger
from inventory.models import (
    GoneHow,
    Hold,
    HoldEnd,
    HoldKind,
    LedgerEntry,
    LedgerKind,
    Person,
    Slab,
    Standing,
)
from inventory.words import day_words

BACK_IN_STOCK = "Back in stock"
GONE_KINDS = {
    GoneHow.USED: LedgerKind.USED,
    GoneHow.SOLD: LedgerKind.SOLD,
    GoneHow.WRITTEN_OFF: LedgerKind.WRITTEN_OFF,
}
_GONE_BY_KIND = {str(kind): how for how, kind in GONE_KINDS.items()}


class PromiseProblem(ValueError):
    """What was asked cannot be done. Its text is a sentence for the screen, naming nobody."""


class AlreadyPromised(PromiseProblem):
    """The slab is held or allotted."""


class AlreadyGone(PromiseProblem):
    """The slab was used, sold or written off."""


class NotGone(PromiseProblem):
    """The slab is in stock, so there is nothing to bring back."""


class PromiseEnded(PromiseProblem):
    """The hold or allotment is over."""


class LastDayPassed(PromiseProblem):
    """The last day asked for lies in the past."""


@transaction.atomic
def place_hold(slab: Slab, *, label: str, until: date, by: Person, now: datetime) -> Hold:
    """Keep a free slab for somebody up to and including the day `until`.

    Raises:
        AlreadyPromised, AlreadyGone, LastDayPassed: with the sentence to show.
    """
    today = _day_of(now)
    _demand_future(until, today)
    _demand_free(slab, now)
    hold = _promise(slab, HoldKind.HOLD, label, until, by, now)
    _note(slab, LedgerKind.HELD, by, now, before="Free", after=_held_words(label, until))
    derive.write(slab, today, "standing")
    return hold


@transaction.atomic
def allot(slab: Slab, *, label: str, by: Person, now: datetime) -> Hold:
    """Give a free slab to a piece that will be made, with no last day.

    Raises:
        AlreadyPromised, AlreadyGone: with the sentence to show.
    """
    _demand_free(slab, now)
    hold = _promise(slab, HoldKind.ALLOTMENT, label, None, by, now)
    _note(slab, LedgerKind.ALLOTTED, by, now, before="Free", after=f"Allotted: {label}")
    derive.write(slab, _day_of(now), "standing")
    return hold


@transaction.atomic
def allot_held(hold: Hold, *, by: Person, now: datetime) -> Hold:
    """Turn an active hold into an allotment to the same purpose; returns the allotment.

    Raises:
        PromiseEnded: the hold was released, or its last day has passed.
    """
    today = _day_of(now)
    held = _locked(hold)
    if held.kind == HoldKind.HOLD and held.until is not None and held.until < today:
        raise PromiseEnded(f"The hold on {held.slab} ended on {day_words(held.until, today)}.")
    if held.kind == HoldKind.ALLOTMENT:
        raise AlreadyPromised(f"{held.slab} is allotted already.")
    _end(held, HoldEnd.ALLOTTED, by, now)
    allotment = _promise(held.slab, HoldKind.ALLOTMENT, held.label, None, by, now)
    words = f"Allotted: {held.label}"
    _note(held.slab, LedgerKind.ALLOTTED, by, now, before=_words(held), after=words)
    derive.write(held.slab, today, "standing")
    return allotment


@transaction.atomic
def extend(hold: Hold, *, until: date, by: Person, now: datetime) -> Hold:
    """Give an active hold another last day, later or sooner.

    Raises:
        PromiseEnded, LastDayPassed: with the sentence to show.
    """
    today = _day_of(now)
    _demand_future(until, today)
    held = _locked(hold)
    if held.kind == HoldKind.ALLOTMENT:
        raise AlreadyPromised(f"{held.slab} is allotted: that has no last day.")
    if held.until is not None and held.until < today:
        raise PromiseEnded(f"The hold on {held.slab} ended on {day_words(held.until, today)}.")
    before, held.until = _words(held), until
    held.save(update_fields=["until"])
    _note(held.slab, LedgerKind.HELD, by, now, before=before, after=_words(held))
    return held


@transaction.atomic
def release(hold: Hold, *, by: Person, now: datetime, note: str = "") -> Hold:
    """End an active hold or allotment: the slab is free again.

    Raises:
        PromiseEnded: it was over already.
    """
    held = _locked(hold)
    _let_go(held, HoldEnd.RELEASED, by, now, note)
    derive.write(held.slab, _day_of(now), "standing")
    return held


def lapse_due(today: date, now: datetime | None = None) -> int:
    """End every hold whose last day is before `today`; returns how many. Safe to repeat."""
    moment = now or timezone.now()
    due = list(Hold.objects.lapsed_by(today).order_by("pk"))
    return sum(_lapse_one(hold, today, moment) for hold in due)


@transaction.atomic
def mark_gone(
    slab: Slab,
    *,
    how: GoneHow,
    by: Person,
    now: datetime,
    note: str = "",
    even_if_promised: bool = False,
) -> LedgerEntry:
    """The slab was used, sold or written off; a promise on it ends with it.

    Using an allotted slab is what it was allotted for. Anything else asks that the promise be
    released first, unless the person has said to part with it all the same.

    Raises:
        AlreadyGone, AlreadyPromised: with the sentence to show.
    """
    today = _day_of(now)
    _lock(slab)
    _demand_here(slab)
    promise = _active(slab, now)
    if promise is not None:
        expected = promise.kind == HoldKind.ALLOTMENT and how == GoneHow.USED
        if not (expected or even_if_promised):
            raise AlreadyPromised(f"{_promised_words(promise, today)} Release it first.")
        _end(promise, HoldEnd.GONE, by, now)
    before = _words(promise) if promise else "Free"
    entry = _note(slab, GONE_KINDS[how], by, now, before=before, after=how.label, note=note)
    derive.write(slab, today, "standing")
    return entry


@transaction.atomic
def bring_back(slab: Slab, *, by: Person, now: datetime, note: str = "") -> LedgerEntry:
    """Correct a slab marked gone by mistake: it is in stock again, and free.

    Raises:
        NotGone: it is in stock.
    """
    _lock(slab)
    stored = standing_of(slab)
    if stored["standing"] != Standing.GONE:
        raise NotGone(f"{slab} is in stock already.")
    before = GoneHow(stored["gone_how"]).label
    entry = _note(
        slab, LedgerKind.CORRECTED, by, now, before=before, after=BACK_IN_STOCK, note=note
    )
    derive.write(slab, _day_of(now), "standing", "moisture")
    return entry


def standing_of(slab: Slab) -> dict[str, str]:
    """`standing` and `gone_how` of one slab, from the ledger and its active promise."""
    return standing_many([slab])[slab.pk]


def standing_many(slabs: Iterable[Slab]) -> dict[int, dict[str, str]]:
    """The same for many slabs by primary key, in two queries."""
    keys = [slab.pk for slab in slabs]
    promised = dict(
        Hold.objects.active().filter(slab_id__in=keys).values_list("slab_id", "kind").iterator()
    )
    gone = _gone_how(keys)
    return {key: _standing(gone.get(key, ""), promised.get(key, "")) for key in keys}


def _standing(gone_how: str, promise_kind: str) -> dict[str, str]:
    if gone_how:
        return {"standing": Standing.GONE, "gone_how": gone_how}
    by_kind = {HoldKind.HOLD: Standing.HELD, HoldKind.ALLOTMENT: Standing.ALLOTTED}
    standing = by_kind[HoldKind(promise_kind)] if promise_kind else Standing.FREE
    return {"standing": standing, "gone_how": ""}


def _gone_how(keys: list[int]) -> dict[int, str]:
    """How each slab went, "" when it was brought back since; slabs that never went are absent."""
    entries = LedgerEntry.objects.filter(
        slab_id__in=keys, kind__in=[*_GONE_BY_KIND, LedgerKind.CORRECTED]
    ).order_by("at", "pk")
    latest: dict[int, str] = {}
    for key, kind, after in entries.values_list("slab_id", "kind", "after").iterator():
        if kind in _GONE_BY_KIND:
            latest[key] = _GONE_BY_KIND[kind]
        elif after == BACK_IN_STOCK:
            latest[key] = ""
    return latest


def _lapse_one(hold: Hold, today: date, now: datetime) -> bool:
    """Whether this call ended it; another process may have been quicker, or it was extended."""
    with transaction.atomic():
        _lock(hold.slab)
        still = Hold.objects.lapsed_by(today).filter(pk=hold.pk).select_related("slab").first()
        if still is not None:
            _lapse(still, now)
            derive.write(still.slab, today, "standing")
    return still is not None


def _lapse(hold: Hold, now: datetime) -> None:
    _let_go(hold, HoldEnd.LAPSED, None, now, "Its last day has passed.")


def _let_go(hold: Hold, how: HoldEnd, by: Person | None, now: datetime, note: str) -> None:
    _end(hold, how, by, now)
    _note(hold.slab, LedgerKind.RELEASED, by, now, before=_words(hold), after="Free", note=note)


def _end(hold: Hold, how: HoldEnd, by: Person | None, now: datetime) -> None:
    hold.ended_by, hold.ended_at, hold.ended_how = by, now, how
    hold.save(update_fields=["ended_by", "ended_at", "ended_how"])


def _promise(
    slab: Slab, kind: HoldKind, label: str, until: date | None, by: Person, now: datetime
) -> Hold:
    """The new row; the database's refusal becomes a sentence and spoils nothing else."""
    try:
        with transaction.atomic():
            return Hold.objects.create(
                slab=slab, kind=kind, label=label[:160], until=until, made_by=by, made_at=now
            )
    except IntegrityError as clash:
        raise AlreadyPromised(f"{slab} was promised a moment ago.") from clash


def _demand_free(slab: Slab, now: datetime) -> None:
    """Lock the slab and refuse unless it is free now; an overdue hold on it lapses here."""
    _lock(slab)
    _demand_here(slab)
    promise = _active(slab, now)
    if promise is not None:
        raise AlreadyPromised(_promised_words(promise, _day_of(now)))


def _demand_here(slab: Slab) -> None:
    gone_how = _gone_how([slab.pk]).get(slab.pk)
    if gone_how:
        raise AlreadyGone(f"{slab} is gone: {GoneHow(gone_how).label.lower()}.")


def _demand_future(until: date, today: date) -> None:
    if until < today:
        raise LastDayPassed(f"{day_words(until, today)} has passed: choose a later last day.")


def _active(slab: Slab, now: datetime) -> Hold | None:
    """The promise on the slab today; one whose last day has passed is ended here."""
    promise = Hold.objects.active().filter(slab=slab).select_related("slab").first()
    if promise is not None and promise.until is not None and promise.until < _day_of(now):
        _lapse(promise, now)
        return None
    return promise


def _locked(hold: Hold) -> Hold:
    """The hold as it stands now, its slab locked.

    Raises:
        PromiseEnded: it is over.
    """
    _lock(hold.slab)
    current = Hold.objects.active().filter(pk=hold.pk).select_related("slab").first()
    if current is None:
        raise PromiseEnded(f"{hold.slab} was released already.")
    return current


def _lock(slab: Slab) -> None:
    """Take the slab's row, and see its standing as it is now: the caller's copy may be stale."""
    row = Slab.objects.select_for_update().only("standing", "gone_how").get(pk=slab.pk)
    slab.standing, slab.gone_how = row.standing, row.gone_how


def _note(
    slab: Slab,
    kind: LedgerKind,
    by: Person | None,
    now: datetime,
    *,
    before: str,
    after: str,
    note: str = "",
) -> LedgerEntry:
    return ledger.write(slab, kind, by=by, before=before, after=after, note=note, at=now)


def _words(hold: Hold) -> str:
    if hold.kind == HoldKind.ALLOTMENT or hold.until is None:
        return f"Allotted: {hold.label}"
    return _held_words(hold.label, hold.until)


def _held_words(label: str, until: date) -> str:
    return f"Held until {day_words(until)}: {label}"


def _promised_words(hold: Hold, today: date) -> str:
    if hold.until is None:
        return f"{hold.slab} is allotted to a piece already."
    return f"{hold.slab} is held until {day_words(hold.until, today)}."


def _day_of(now: datetime) -> date:
    return timezone.localtime(now).date()
