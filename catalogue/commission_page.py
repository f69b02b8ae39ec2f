"""What the commission pages show: the list's rows, and one commission with its wood."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.db.models import Prefetch

from catalogue import (
    drying_chances,
    laid_cards,
    laid_drawing,
    laying,
    match_words,
    matching,
    near_misses,
    options,
    promises,
)
from catalogue.laid_drawing import Drawing
from catalogue.layout.rules import ALLOWANCES
from catalogue.match_words import Voice
from catalogue.matching import Candidate, Ranking
from catalogue.models import Commission, CommissionHold, HowMade, Stage
from catalogue.near_misses import NearMiss
from inventory import readiness
from inventory.models import Hold, HoldKind, Slab, Species
from inventory.readiness import Target, Verdict
from inventory.viewer import Viewer
from inventory.words import day_words

STARTING_SOON_DAYS = 30
SHOWN_FIRST = 4
# Of more free slabs than this, candidates are looked for after the page is shown; of fewer where
# each way takes two slabs, or resin, to be laid out.
AT_ONCE_MOST, AT_ONCE_PAIRS = 150, 12


@dataclass(frozen=True)
class Row:
    """One commission in the list, with the wood promised and what is missing."""

    commission: Commission
    promised: tuple[Hold, ...]
    missing: str
    start_words: str
    is_urgent: bool


@dataclass(frozen=True)
class Shown:
    """A candidate with its drawing."""

    candidate: Candidate
    drawing: Drawing


@dataclass(frozen=True)
class Promised:
    """A slab promised to the commission, and how dry it is for it."""

    hold: Hold
    verdict: Verdict
    expected: str = ""

    @property
    def slab(self) -> Slab:
        return self.hold.slab

    @property
    def is_allotted(self) -> bool:
        return self.hold.kind == HoldKind.ALLOTMENT


@dataclass(frozen=True)
class Page:
    """Everything the commission's page shows."""

    target: Target
    target_from: str
    wished: tuple[Species, ...]
    start_words: str
    start_on: date | None
    rough_thickness_mm: float
    gap_share: str
    promised: tuple[Promised, ...]
    promised_drawing: Drawing | None
    missing: str
    is_open: bool
    ranking: Ranking | None
    found: tuple[Shown, ...]
    more: str
    near_misses: tuple[NearMiss, ...]
    usual_last_day: date
    today: date
    laid_tops: list[laid_cards.Card]
    taken_back: list[laid_cards.Withdrawn]
    waits_for: int
    codes_asked: list[tuple[str, str]]

    @property
    def first_found(self) -> tuple[Shown, ...]:
        return self.found[:SHOWN_FIRST]

    @property
    def later_found(self) -> tuple[Shown, ...]:
        return self.found[SHOWN_FIRST:]

    @property
    def when_query(self) -> str:
        """What the page on when a slab will be dry is asked for this piece."""
        low, high = (f"{pct:.2f}" for pct in (self.target.low_pct, self.target.high_pct))
        asked = {"for": "range", "low": low, "high": high}
        return urlencode(asked | ({"by": self.start_on.isoformat()} if self.start_on else {}))

    @property
    def held(self) -> list[Promised]:
        """What is held and may now be allotted."""
        return [item for item in self.promised if not item.is_allotted]


def rows(on: date) -> dict[str, Any]:
    """Open commissions soonest first, then the closed ones latest first; three queries."""
    active = CommissionHold.objects.filter(hold__ended_at__isnull=True)
    related = active.select_related("hold__slab__species").order_by("hold__made_at", "pk")
    wood = Prefetch("promises", related, to_attr="active_promises")
    every = Commission.objects.select_related("client").prefetch_related(wood)
    return {
        "open": [_row(commission, on) for commission in every.open()],
        "closed": every.exclude(stage=Stage.OPEN).order_by("-made_at"),
    }


def _row(commission: Commission, on: date) -> Row:
    links: list[CommissionHold] = getattr(commission, "active_promises")  # noqa: B009
    promised = tuple(link.hold for link in links)
    missing = missing_words(commission, promised)
    start = commission.start_on
    soon = start is not None and (start - on).days <= STARTING_SOON_DAYS
    return Row(commission, promised, missing, start_words(commission, on), soon and bool(missing))


def start_words(commission: Commission, on: date) -> str:
    """When work starts, and how far off that is."""
    start = commission.start_on
    if start is None:
        return "No start date yet"
    days = (start - on).days
    if days < 0:
        return f"Was to start on {day_words(start, on)}"
    near = {0: "today", 1: "tomorrow"}.get(days, f"in {days} days")
    return f"Starts on {day_words(start, on)}, {near}"


def missing_words(commission: Commission, promised: Sequence[Hold]) -> str:
    """What the commission still wants of wood, in a few words; "" when nothing."""
    wanted = options.slabs_of(HowMade(commission.how_made))
    if not promised:
        return "No wood yet"
    if len(promised) < wanted:
        return "One slab of the pair is missing"
    held = [promise for promise in promised if promise.kind == HoldKind.HOLD]
    return "Held, not allotted yet" if held else ""


def look(commission: Commission, viewer: Viewer, on: date, *, is_asked: bool = False) -> Page:
    """The page on a day. The number of queries does not grow with the yard.

    In a large yard candidates are looked for only when they are asked for, so that the rest of the
    page does not wait for them.
    """
    voice = Voice(viewer.system, viewer.sees_cost)
    is_open = commission.stage == Stage.OPEN
    free = matching.slabs_wished(commission).free().count() if is_open and not is_asked else 0
    plain = commission.how_made == HowMade.ONE_SLAB
    waits = free > (AT_ONCE_MOST if plain else AT_ONCE_PAIRS)
    holds = promises.promised_to(commission)
    target = matching.target_of(commission)
    ranking = matching.candidates(commission, on, voice) if is_open and not waits else None
    laid = laid_cards.cards(commission, voice, {hold.slab_id for hold in holds})
    misses = near_misses.near_misses(commission, ranking, on, voice) if ranking else []
    return Page(
        target=target,
        target_from=_target_from(commission),
        wished=tuple(commission.species.all()),
        start_words=start_words(commission, on),
        start_on=commission.start_on,
        rough_thickness_mm=options.rough_thickness_mm(commission),
        gap_share=f"{ALLOWANCES.resin_gap_share:.0%}",
        promised=_promised(holds, target, commission.start_on, on),
        promised_drawing=_promised_drawing(commission, [hold.slab for hold in holds], laid),
        missing=missing_words(commission, holds),
        is_open=is_open,
        ranking=ranking,
        found=_shown(ranking.found) if ranking else (),
        more=_more_words(commission, ranking),
        near_misses=tuple(misses),
        usual_last_day=promises.usual_last_day(on),
        today=on,
        laid_tops=laid,
        taken_back=laid_cards.withdrawn(commission) if is_open else [],
        waits_for=free if waits else 0,
        codes_asked=laying.codes_asked(commission),
    )


def _target_from(commission: Commission) -> str:
    if commission.target_low_pct is not None:
        return "as given for this piece"
    if commission.home_rh_pct is not None:
        return "from the air at home"
    return f"usual for {commission.get_use_display().lower()}"


def _promised(
    holds: Sequence[Hold], target: Target, start: date | None, on: date
) -> tuple[Promised, ...]:
    slabs = [hold.slab for hold in holds]
    verdicts = readiness.verdicts_of(slabs, on, target)
    judged = [verdicts[slab.pk] for slab in slabs]
    known = drying_chances.of_unready(slabs, judged, target, start, on)
    expected = {pk: match_words.expected(chance, start, on) for pk, chance in known.items()}
    return tuple(
        Promised(hold, verdicts[hold.slab_id], expected.get(hold.slab_id, "")) for hold in holds
    )


def _promised_drawing(
    commission: Commission, slabs: list[Slab], cards: Sequence[laid_cards.Card]
) -> Drawing | None:
    """The top on the wood promised to it: as it was laid there by hand, else as it fits best.

    None where that is not enough wood, or the top does not fit.
    """
    for card in cards:
        if card.fits and not card.changed and set(card.slabs) == set(slabs):
            return replace(card.drawing, key="promised") if card.drawing else None
    laid = options.layout_of(commission, slabs)
    if laid is None:
        return None
    width_mm = laid_drawing.widest_mm([laid])
    codes = [slab.display_code for slab in slabs]
    return laid_drawing.draw(laid, codes, width_mm, laid_drawing.pictures_of(slabs), "promised")


def _more_words(commission: Commission, ranking: Ranking | None) -> str:
    """That more may do than are shown; counted only where a look tells what fits (matching.py)."""
    if ranking is None or ranking.fitting <= len(ranking.found):
        return ""
    if commission.how_made != HowMade.ONE_SLAB:
        is_pair = options.slabs_of(HowMade(commission.how_made)) == 2
        things = "pairs" if is_pair else "slabs"
        return f"More {things} may do; these {len(ranking.found)} come first."
    about = "At least" if ranking.counted.is_capped else "About"
    return f"{about} {ranking.fitting:,} slabs would do; these {len(ranking.found)} come first."


def _shown(found: Sequence[Candidate]) -> tuple[Shown, ...]:
    """All drawn to one scale."""
    width_mm = laid_drawing.widest_mm([candidate.option.layout for candidate in found])
    pictures = laid_drawing.pictures_of(
        {slab.pk: slab for one in found for slab in one.slabs}.values()
    )
    return tuple(
        Shown(
            one,
            laid_drawing.draw(
                one.option.layout, [slab.display_code for slab in one.slabs], width_mm, pictures
            ),
        )
        for one in found
    )
