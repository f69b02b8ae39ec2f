"""Whether wood is dry when work starts: said of candidates and of promised wood, and ranked."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue import drying_chances, matching, promises
from catalogue.commission_page import look
from catalogue.match_words import Speaks
from catalogue.matching import Candidate
from catalogue.models import Commission
from inventory.forecast_words import p_by
from inventory.models import Person, Place, PlaceKind, Slab
from inventory.readiness import INTERIOR, Target, Use
from inventory.viewer import Viewer
from tests.factories import at, make_commission
from tests.inventory.forecast_helpers import TODAY, falling_to, forecast, make_air, make_drying

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20, 10)


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    cache.clear()
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def room() -> Place:
    return make_air(5.2, kind=PlaceKind.CONDITIONING, name="Warm room")


def piece(in_days: int | None, **kwargs: Any) -> Commission:
    start: date | None = None if in_days is None else TODAY + timedelta(days=in_days)
    return make_commission(start_on=start, **kwargs)


def only(commission: Commission) -> Candidate:
    (candidate,) = matching.candidates(commission, TODAY).found
    return candidate


def start_said(candidate: Candidate) -> tuple[Speaks, str]:
    said = next(one for one in candidate.said if one.about == "start")
    return said.speaks, said.sentence.replace("\N{NO-BREAK SPACE}", " ")


def test_the_chance_by_the_start_comes_from_the_stored_forecast(room: Place) -> None:
    slab = make_drying(room, falling_to(5.2))
    row = forecast(slab)
    for days in (20, 60, 400):
        chance = drying_chances.chances([slab], INTERIOR, TODAY + timedelta(days=days), TODAY)
        # The slab at hand is as it was before its forecast: same check, same place.
        assert chance[slab.pk].p == p_by(row, TODAY + timedelta(days=days))


def test_another_target_is_reckoned_for_itself(room: Place) -> None:
    slab = make_drying(room, falling_to(5.2))
    forecast(slab)
    slab.refresh_from_db()
    start = TODAY + timedelta(days=45)
    wetter, usual, drier = (
        drying_chances.chances([slab], Target(top - 2, top, Use.INTERIOR), start, TODAY)[slab.pk].p
        for top in (10.0, 8.0, 6.9)
    )
    assert wetter is not None
    assert usual is not None
    assert drier is not None
    assert wetter > usual > drier


def test_wood_that_will_be_dry_speaks_for_itself_and_wood_that_will_not_against(
    room: Place,
) -> None:
    forecast(make_drying(room, falling_to(5.2)))
    speaks, sentence = start_said(only(piece(500)))
    assert speaks == Speaks.FOR
    assert "the chance that it is dry by then is better than 19 in 20. Most likely dry" in sentence
    speaks, sentence = start_said(only(piece(15)))
    assert speaks == Speaks.AGAINST
    assert sentence.startswith("Work starts in 15 days, on 4 June: the chance that it is dry by")


def test_without_a_start_the_day_itself_is_said(room: Place) -> None:
    forecast(make_drying(room, falling_to(5.2)))
    assert start_said(only(piece(None)))[1].startswith("Most likely dry enough around")


def test_the_likeliest_comes_first_among_wood_not_ready(room: Place) -> None:
    shed = make_air(13.0, kind=PlaceKind.SHED)
    stays_wet, comes_dry = (
        make_drying(shed, falling_to(11.0, months=2)),
        make_drying(room, falling_to(5.2, months=6)),
    )
    assert stays_wet.mc_pct is not None
    assert comes_dry.mc_pct is not None
    assert stays_wet.mc_pct < comes_dry.mc_pct, "by moisture alone the other would come first"
    found = matching.candidates(piece(500), TODAY).found
    assert [candidate.slabs[0] for candidate in found] == [comes_dry, stays_wet]
    chances = [candidate.p_dry_by_start for candidate in found]
    assert chances[0] is not None
    assert chances[1] is not None
    assert chances[0] > 0.9 > 0.1 > chances[1]


def test_promised_wood_says_when_it_will_be_dry(owner: Person, room: Place) -> None:
    slab, commission = make_drying(room, falling_to(5.2)), piece(500)
    promises.hold(commission, [slab], until=TODAY + timedelta(days=9), by=owner, now=NOW)
    (promised,) = look(commission, Viewer(owner), TODAY).promised
    assert promised.expected.startswith("Most likely dry enough around")
    by = "Chance of being dry by 2 October 2027: better than 19 in 20."
    assert promised.expected.endswith(by)


def test_chances_take_as_many_queries_for_many_candidates_as_for_few(room: Place) -> None:
    slabs = [make_drying(room, falling_to(5.2), checks=2) for _ in range(5)]
    fetched = list(Slab.objects.for_cards().filter(pk__in=[slab.pk for slab in slabs]))
    target, start = Target(7.0, 9.0, Use.INTERIOR), TODAY + timedelta(days=60)

    def queries(some: list[Slab]) -> int:
        with CaptureQueriesContext(connection) as captured:
            drying_chances.chances(some, target, start, TODAY)
        return len(captured)

    assert queries(fetched[:1]) == queries(fetched)
    assert queries(fetched) == 1, "kept for the day"
