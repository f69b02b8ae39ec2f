"""One slab's page: its figures, pictures, neighbours and what this viewer may read of the rest."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.safestring import SafeString

from catalogue import purposes, slab_actions
from catalogue.browsing import Card, card
from catalogue.cautions import cautions
from catalogue.groups import IN_STOCK
from catalogue.models import Commission
from catalogue.slab_plan import SlabPlan, plan
from inventory import alert_lists, charts, judging, last_read, outlines, what_if
from inventory.models import (
    Alert,
    Condition,
    FaceSide,
    Hold,
    Outline,
    Parcel,
    Photo,
    Reading,
    ShapeBasis,
    Slab,
    Standing,
)
from inventory.viewer import Viewer
from inventory.wood import measure, shrinkage

# How long a slab is kept unless another day is said, and how many commissions are offered.
HOLD_FOR = timedelta(days=14)
MOST_COMMISSIONS = 12
# An unchecked slab is reckoned wet, so that nobody lifts on a hopeful figure.
UNCHECKED_MC_PCT = shrinkage.FIBRE_SATURATION_PCT

_CONDITION_SENTENCES = {
    Condition.GREEN: "Green: fresh from the saw, with a long way to go.",
    Condition.DRYING: "Still drying: too wet for furniture indoors.",
    Condition.RESTING: "Dry enough, and not yet settled: it rests before it is worked.",
    Condition.READY: "Ready for furniture indoors.",
    Condition.TOO_DRY: "Drier than a room will keep it: it will swell a little there.",
}


@dataclass(frozen=True)
class Weight:
    """Mass now (kg), and what it was reckoned at; None where the species' density is not known."""

    mass_kg: float | None
    at_pct: float
    is_measured: bool
    caution: str | None


@dataclass(frozen=True)
class Keeping:
    """For whom a free slab may be kept, and until which day unless another is chosen."""

    commissions: list[Commission]
    until: date
    first_day: date


@dataclass(frozen=True)
class Sheet:
    slab: Slab
    photos: list[Photo]
    plan: SlabPlan | None
    flattened_mm: tuple[float, float] | None
    tally_bf: float | None
    weight: Weight
    moisture_words: str
    cautions: list[str]
    neighbours: list[Card]
    actions: list[slab_actions.ActionLink]
    hold: Hold | None
    judged: judging.Judged | None
    alerts: list[Alert]
    read: last_read.LastRead | None
    parcel: Parcel | None
    when: what_if.When | None
    chart: SafeString | None
    keeping: Keeping | None


def sheet_of(slab: Slab, viewer: Viewer, on: date, asked: str = "") -> Sheet:
    """All the page shows; hold, verdict and chart (it names places) only for the house.

    `asked` names what the slab is judged for: a use, or a commission's key.
    """
    when = what_if.when_of(slab, on) if viewer.sees_house else None
    read = last_read.last_read(slab, viewer.system) if viewer.sees_house else None
    return Sheet(
        slab=slab,
        photos=list(slab.photos.order_by("position", "pk")),
        plan=plan(slab, viewer.system, _readings(read), _traced(slab, viewer)),
        flattened_mm=shrinkage.flattened_mm(slab.thickness_mm),
        tally_bf=tally_bf(slab),
        weight=weight(slab, viewer.system),
        moisture_words=moisture_words(slab),
        cautions=cautions(slab),
        neighbours=neighbours(slab, viewer),
        actions=slab_actions.links(slab, viewer),
        hold=_hold(slab) if viewer.sees_house else None,
        judged=_judged(slab, viewer, on, asked) if viewer.sees_house else None,
        alerts=alert_lists.of_slab(slab) if viewer.sees_house else [],
        read=read,
        parcel=_parcel(slab) if viewer.sees_cost else None,
        keeping=keeping(slab, viewer, on),
        when=when,
        chart=_chart(slab, viewer, on, when) if viewer.sees_house else None,
    )


def _readings(read: last_read.LastRead | None) -> list[Reading]:
    """Those of the last check with a meter."""
    return [line.reading for line in read.metered.lines] if read and read.metered else []


def _traced(slab: Slab, viewer: Viewer) -> Outline | None:
    """The upper face's outline, or the lower's where it alone was traced; for the house."""
    if slab.shape_basis != ShapeBasis.TRACED or not viewer.sees_house:
        return None
    kept = outlines.current(slab)
    return kept.get(FaceSide.UPPER) or kept.get(FaceSide.LOWER)


def tally_bf(slab: Slab) -> float | None:
    if not slab.mean_width_mm:
        return None
    return measure.tally_board_feet(slab.thickness_mm, slab.mean_width_mm, slab.length_mm)


def weight(slab: Slab, system: str) -> Weight:
    """Mass at the last moisture content, or as wet wood when there is none."""
    is_measured = slab.mc_pct is not None
    at_pct = slab.mc_pct if slab.mc_pct is not None else UNCHECKED_MC_PCT
    sg_green = slab.species.sg_green
    if sg_green is None or not slab.volume_mm3:
        return Weight(None, at_pct, is_measured, None)
    mass_kg = shrinkage.mass_kg(slab.volume_mm3, sg_green, at_pct)
    return Weight(mass_kg, at_pct, is_measured, measure.lifting_caution(mass_kg, system))


def moisture_words(slab: Slab) -> str:
    """How dry, as one would say it across the table."""
    if slab.condition in _CONDITION_SENTENCES:
        return _CONDITION_SENTENCES[Condition(slab.condition)]
    if slab.checked_on is None:
        return "Its moisture has not been checked yet."
    return "The last moisture check is too old or too sparse to go by."


def neighbours(slab: Slab, viewer: Viewer) -> list[Card]:
    """The slabs of the same log in sawn order, this one among them; a client sees none gone."""
    if slab.log_id is None:
        return []
    of_log = Slab.objects.for_cards().filter(log_id=slab.log_id).order_by("number_in_log", "code")
    if viewer.client_view:
        of_log = of_log.filter(standing__in=IN_STOCK)
    cards = [card(one) for one in of_log]
    return cards if len(cards) > 1 else []


def keeping(slab: Slab, viewer: Viewer, on: date) -> Keeping | None:
    """The open commissions this viewer may keep a free slab for, soonest start first."""
    may_keep = viewer.can("keep_commission") and viewer.can("hold_slab")
    if slab.standing != Standing.FREE or not may_keep:
        return None
    wanting = list(Commission.objects.open().select_related("client")[:MOST_COMMISSIONS])
    return Keeping(wanting, on + HOLD_FOR, on) if wanting else None


def _judged(slab: Slab, viewer: Viewer, on: date, asked: str) -> judging.Judged:
    return judging.judge_for(slab, on, viewer.system, asked, purposes.pieces(viewer))


def _chart(slab: Slab, viewer: Viewer, on: date, when: what_if.When | None) -> SafeString:
    forecast = when.row if when else None
    return charts.moisture_chart(slab, on, viewer.system, forecast=forecast)


def _hold(slab: Slab) -> Hold | None:
    kept = slab.holds.select_related("made_by", "commission_link__commission")
    return kept.filter(ended_at__isnull=True).first()


def _parcel(slab: Slab) -> Parcel | None:
    """Its own, or its log's."""
    return slab.parcel or (slab.log.parcel if slab.log else None)
