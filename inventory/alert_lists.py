"""Warnings as pages list them: grouped by their subject, each with what the viewer may do."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.core.paginator import Page, Paginator
from django.db.models import F
from django.urls import reverse

from inventory.forms.alerts import SetAsideForm
from inventory.models import Alert, AlertKind, Meter, Place, Slab
from inventory.models.alert import AlertQuerySet
from inventory.viewer import Viewer

A_PAGE = 60
SETTLED_DAYS = 30
SETTLED_MOST = 40


@dataclass(frozen=True)
class Row:
    """A warning; `form` sets it aside, None for those who may not."""

    alert: Alert
    form: SetAsideForm | None


@dataclass(frozen=True)
class Group:
    """The warnings of one slab, place or meter."""

    words: str
    detail: str
    url: str
    icon: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Settled:
    """A warning set aside, or over since a day; `may_take_up` it into sight again."""

    alert: Alert
    words: str
    url: str
    may_take_up: bool


@dataclass(frozen=True)
class Told:
    """A warning with the name and address of its subject."""

    alert: Alert
    words: str
    url: str


@dataclass(frozen=True)
class FewTold:
    """The first few of many, and how many there are."""

    count: int
    told: tuple[Told, ...]

    @property
    def more(self) -> int:
        return self.count - len(self.told)


def open_page(number: str | None) -> Page[Alert]:
    """Open warnings: places as one walks, meters, then slabs as one walks."""
    return Paginator(_in_order(Alert.objects.open()), A_PAGE).get_page(number)


def groups(
    alerts: Iterable[Alert], viewer: Viewer, refused: tuple[int, SetAsideForm] | None = None
) -> list[Group]:
    """The alerts, in their order, by subject; `refused` is a form that was wrong."""
    found = []
    for _, some in groupby(alerts, key=lambda one: (one.slab_id, one.place_id, one.meter_id)):
        rows = tuple(Row(alert, _form(alert, viewer, refused)) for alert in some)
        found.append(_group(rows[0].alert, viewer, rows))
    return found


def settled(viewer: Viewer, on: date) -> list[Settled]:
    """Set aside and still standing, or over within the month; the latest first."""
    since = on - timedelta(days=SETTLED_DAYS)
    alerts = Alert.objects.settled_since(since).with_subjects()[:SETTLED_MOST]
    return [
        Settled(
            alert,
            _name(alert),
            _url(alert, viewer),
            alert.resolved_on is None and viewer.can(alert.needs),
        )
        for alert in alerts
    ]


def few_open(viewer: Viewer, most: int, leaving_out: Iterable[AlertKind] = ()) -> FewTold:
    """The first few open warnings as a page lists them, and the count of all; two queries."""
    alerts = Alert.objects.open().exclude(kind__in=list(leaving_out))
    shown = tuple(
        Told(alert, _name(alert), _url(alert, viewer)) for alert in _in_order(alerts)[:most]
    )
    return FewTold(alerts.count(), shown)


def of_slab(slab: Slab) -> list[Alert]:
    """A slab's open warnings, the latest first."""
    return list(Alert.objects.open().filter(slab=slab))


def of_place(place: Place) -> list[Alert]:
    """A place's own open warnings, of its air and its sensor, the latest first."""
    return list(Alert.objects.open().filter(place=place))


def _in_order(alerts: AlertQuerySet) -> AlertQuerySet:
    names = ("place__position", "place__name", "meter__name", "slab__place__position")
    walking = [F(name).asc(nulls_last=True) for name in names]
    bay = F("slab__bay__position").asc(nulls_last=True)
    return alerts.with_subjects().order_by(
        *walking, "slab__place__name", bay, "slab__code", "kind", "pk"
    )


def _form(
    alert: Alert, viewer: Viewer, refused: tuple[int, SetAsideForm] | None
) -> SetAsideForm | None:
    if not viewer.can(alert.needs):
        return None
    if refused is not None and refused[0] == alert.pk:
        return refused[1]
    return SetAsideForm(alert=alert)


def _group(alert: Alert, viewer: Viewer, rows: tuple[Row, ...]) -> Group:
    subject = alert.subject
    icon, detail = "moisture", ""
    if isinstance(subject, Place):
        icon, detail = "places", subject.get_kind_display()
    elif isinstance(subject, Slab):
        icon, detail = "slabs", _where(subject)
    return Group(_name(alert), detail, _url(alert, viewer), icon, rows)


def _where(slab: Slab) -> str:
    """`Long shed, Bay 4`, or nothing."""
    if slab.place is None:
        return ""
    return f"{slab.place.name}, {slab.bay.name}" if slab.bay else slab.place.name


def _name(alert: Alert) -> str:
    subject = alert.subject
    if isinstance(subject, Slab):
        return f"{subject.species.common_name} {subject.display_code}"
    return subject.name


def _url(alert: Alert, viewer: Viewer) -> str:
    subject = alert.subject
    if isinstance(subject, Slab):
        return subject.get_absolute_url()
    if isinstance(subject, Meter):
        keeps = viewer.can("keep_yard")
        return reverse("inventory:meter_edit", args=[subject.pk]) if keeps else _meters()
    return reverse("inventory:place", args=[subject.pk])


def _meters() -> str:
    return reverse("inventory:meters")
