"""Keeping watch: the facts of slabs, places and meters looked at, and warnings kept of them.

A warning is raised once and stands until its facts are gone, when the day is written; a person may
set it aside with a reason, and it is not raised again while the same facts stand. What to warn of
is decided in alert_rules.py. Each look takes the same few queries however much is looked at.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import islice

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count, OuterRef, Q, Subquery
from django.utils import timezone

from inventory import air, alert_rules, readiness
from inventory.alert_rules import ALERTS, Finding, PlaceSeen, SlabSeen
from inventory.models import (
    AirRecord,
    Alert,
    AlertKind,
    Condition,
    Meter,
    Person,
    Place,
    Slab,
    Standing,
)
from inventory.readiness import INTERIOR
from inventory.readiness_rules import as_of

# How far back the daily look seeks checks that came on the record without one (a bulk load).
DAILY_BACK = timedelta(days=2)
AT_ONCE = 5000


def look_at_slab(slab: Slab, on: date) -> None:
    """Raise and resolve a slab's warnings, in the transaction of the fact that changed."""
    look_at_slabs([slab], on)


def look_at_slabs(slabs: Sequence[Slab], on: date) -> None:
    """The same for many: some seven queries. `slabs` have their species and place at hand."""
    here = [slab for slab in slabs if slab.standing != Standing.GONE]
    seen = _slabs_seen(here, on)
    found = {pk: alert_rules.of_slab(one, on) for pk, one in seen.items()}

    def is_past_judging(alert: Alert) -> bool:
        """A check's curve is judged in the air it was made in; later it stands as it was."""
        one = seen.get(alert.slab_id or 0)
        return (
            alert.kind == AlertKind.OFF_CURVE
            and one is not None
            and one.facts.latest is not None
            and alert.stands_on == f"check {one.facts.latest.pk}"
            and not alert_rules.recently_checked(one, on)
        )

    _keep("slab", {slab.pk: found.get(slab.pk, []) for slab in slabs}, on, is_past_judging)


def look_at_place(place: Place, now: datetime) -> None:
    look_at_places([place], now)


def look_at_places(places: Sequence[Place], now: datetime) -> None:
    """Warnings of places' air: six queries at most."""
    on = timezone.localtime(now).date()
    seen = _places_seen(places, air.end_of(on))
    found = {pk: alert_rules.of_place(one, INTERIOR, on) for pk, one in seen.items()}
    _keep("place", found, on)


def look_at_meter(meter: Meter, on: date) -> None:
    look_at_meters([meter], on)


def look_at_meters(meters: Iterable[Meter], on: date) -> None:
    """Warnings of meters past their test; one laid by is past nothing."""
    _keep("meter", {meter.pk: _of_meter(meter, on) for meter in meters}, on)


@transaction.atomic
def look_over_yard(on: date, since: date | None = None) -> None:
    """Everything at once: every place and meter, and the slabs.

    With `since`, only the slabs checked on or after that day and those with a warning: a slab's
    facts change through operations that look at it themselves.
    """
    slabs = Slab.objects.in_stock()
    if since is not None:
        slabs = slabs.filter(checked_on__gte=since)
    warned = Alert.objects.standing().filter(slab__isnull=False).values("slab")
    chosen = Slab.objects.filter(Q(pk__in=slabs.values("pk")) | Q(pk__in=warned))
    rows = chosen.select_related("species", "place").order_by("pk").iterator(chunk_size=AT_ONCE)
    while some := list(islice(rows, AT_ONCE)):
        look_at_slabs(some, on)
    look_at_places(list(Place.objects.all()), _noon(on))
    look_at_meters(Meter.objects.all(), on)


def look_daily(on: date) -> None:
    """What the calendar alone may have changed, and what came in by another door."""
    look_over_yard(on, since=on - DAILY_BACK)


@transaction.atomic
def set_aside(alert: Alert, *, by: Person, reason: str, now: datetime) -> None:
    """Put a warning out of sight while its facts stand.

    Raises:
        ValidationError: by field (reason), or for the whole when it is settled already.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": "Say in a few words why it may be left."})
    row = Alert.objects.select_for_update().get(pk=alert.pk)
    if row.resolved_on is not None or row.is_set_aside:
        raise ValidationError("This warning is settled already.")
    row.set_aside_by, row.set_aside_at, row.set_aside_reason = by, now, reason
    row.save(update_fields=["set_aside_by", "set_aside_at", "set_aside_reason"])


@transaction.atomic
def take_up(alert: Alert) -> None:
    """Bring a warning set aside back into sight, while its facts still stand."""
    row = Alert.objects.select_for_update().get(pk=alert.pk)
    if row.resolved_on is not None:
        raise ValidationError("What it warned of is over.")
    row.set_aside_by, row.set_aside_at, row.set_aside_reason = None, None, ""
    row.save(update_fields=["set_aside_by", "set_aside_at", "set_aside_reason"])


# --- facts -----------------------------------------------------------------------------------


def _slabs_seen(slabs: Sequence[Slab], on: date) -> dict[int, SlabSeen]:
    facts = readiness.facts_of(slabs)
    places = {slab.place_id for slab in slabs if slab.place_id is not None}
    emcs = air.working_emcs(sorted(places), air.end_of(on)) if places else {}
    return {
        slab.pk: SlabSeen(
            as_of(facts[slab.pk], on),
            slab.species.common_name,
            slab.species.botanical_name,
            INTERIOR,
            slab.place.name if slab.place else "",
            emcs.get(slab.place_id or 0),
        )
        for slab in slabs
    }


def _places_seen(places: Sequence[Place], now: datetime) -> dict[int, PlaceSeen]:
    keys = [place.pk for place in places]
    emcs = air.working_emcs(keys, now)
    newest = AirRecord.objects.current().filter(place=OuterRef("pk"), at__lte=now)
    in_stock = ~Q(slabs__standing=Standing.GONE)
    rows = Place.objects.filter(pk__in=keys).annotate(
        last_at=Subquery(newest.values("at")[:1]),
        pieces=Count("slabs", filter=in_stock),
        ready=Count("slabs", filter=in_stock & Q(slabs__condition=Condition.READY)),
    )
    told = list(rows.values_list("pk", "last_at", "pieces", "ready"))
    records = _records_before({pk: last_at for pk, last_at, *_ in told if last_at}, now)
    return {
        pk: PlaceSeen(
            emcs[pk],
            pieces,
            ready,
            timezone.localtime(last_at).date() if last_at else None,
            records.get(pk, 0),
        )
        for pk, last_at, pieces, ready in told
    }


def _records_before(last: Mapping[int, datetime], now: datetime) -> dict[int, int]:
    """How many records each place that has fallen silent had in the month up to its last."""
    quiet_by = now - timedelta(days=ALERTS.silent_days)
    wanted = Q()
    for pk, last_at in last.items():
        if last_at < quiet_by:
            month = timedelta(days=ALERTS.regular_days)
            wanted |= Q(place=pk, at__gt=last_at - month, at__lte=last_at)
    if not wanted:
        return {}
    counts = AirRecord.objects.filter(wanted).order_by().values_list("place").annotate(Count("pk"))
    return dict(counts)


def _of_meter(meter: Meter, on: date) -> list[Finding]:
    if meter.is_retired:
        return []
    found = alert_rules.meter_due(meter.test_due_on, meter.tested_on, on)
    return [] if found is None else [found]


# --- keeping what was found ---------------------------------------------------------------------


def _never(alert: Alert) -> bool:
    return False


@dataclass
class _Changes:
    """Rows to write: those raised, told anew, and resolved."""

    raised: list[Alert] = field(default_factory=list)
    changed: list[Alert] = field(default_factory=list)


def _keep(
    subject: str,
    found: Mapping[int, Sequence[Finding]],
    on: date,
    stands: Callable[[Alert], bool] = _never,
) -> None:
    """Make the standing warnings of these subjects agree with what was found of each.

    `stands` tells of one not found again whether it stands all the same. One query, and two when
    something changed; a warning another process raised meanwhile is left as it is.
    """
    standing = Alert.objects.standing().filter(**{f"{subject}__in": list(found)})
    known = {(getattr(alert, f"{subject}_id"), alert.kind): alert for alert in standing}
    changes = _Changes()
    for pk, findings in found.items():
        for finding in findings:
            _settle(
                known.pop((pk, finding.kind), None), {f"{subject}_id": pk}, finding, on, changes
            )
    for alert in known.values():
        if not stands(alert):
            alert.resolved_on = on
            changes.changed.append(alert)
    if changes.changed:
        names = ["sentence", "stands_on", "facts", "resolved_on"]
        Alert.objects.bulk_update(changes.changed, names, batch_size=500)
    Alert.objects.bulk_create(changes.raised, ignore_conflicts=True)


def _settle(
    alert: Alert | None, subject: dict[str, int], finding: Finding, on: date, changes: _Changes
) -> None:
    """Raise, tell anew, or leave; one set aside about other facts gives way to a new one."""
    fresh = Alert(
        **subject,
        kind=finding.kind,
        sentence=finding.sentence,
        stands_on=finding.stands_on,
        facts=finding.facts,
        raised_on=on,
    )
    if alert is None:
        changes.raised.append(fresh)
    elif alert.is_set_aside and alert.stands_on != finding.stands_on:
        alert.resolved_on = on
        changes.changed.append(alert)
        changes.raised.append(fresh)
    elif not alert.is_set_aside and _differs(alert, fresh):
        alert.sentence, alert.stands_on, alert.facts = fresh.sentence, fresh.stands_on, fresh.facts
        changes.changed.append(alert)


def _differs(one: Alert, other: Alert) -> bool:
    return (one.sentence, one.stands_on) != (other.sentence, other.stands_on)


def _noon(on: date) -> datetime:
    return air.end_of(on) - timedelta(hours=12)
