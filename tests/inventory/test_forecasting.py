"""When a slab will be dry: the states, the dates, who writes them and that they can be proved."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import derive, forecasting, judging, moves, weighing
from inventory.forecast_words import chance_words, moved_words, p_by, stored_answer
from inventory.models import Basis, ForecastState, PlaceKind, Slab, SlabForecast
from inventory.slab_histories import told_of
from inventory.weighing import WeighingEntry
from inventory.words import day_words
from tests.factories import at, make_person, make_place, make_slab
from tests.inventory.check_helpers import record
from tests.inventory.forecast_helpers import (
    TODAY,
    dates,
    falling_to,
    forecast,
    make_air,
    make_drying,
    read,
)

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20, 10)


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def plain(sentence: str) -> str:
    return sentence.replace("\N{NO-BREAK SPACE}", " ")


def test_wood_in_dry_air_gets_a_date_with_eight_chances_in_ten_around_it() -> None:
    row = forecast(make_drying(make_air(6.3), falling_to(6.3)))
    assert row.state == ForecastState.WILL_ARRIVE
    low, median, high = dates(row)
    assert TODAY < low < median < TODAY + timedelta(days=500)
    assert median < high < TODAY + timedelta(days=730)
    sentence = stored_answer(row, TODAY).sentence
    assert sentence.startswith("Most likely dry enough around ")
    assert "; 8 chances in 10 between " in sentence


def test_rooms_of_the_same_air_give_the_same_dates() -> None:
    rooms = [make_air(6.3, name=name) for name in ("Front room", "Back room", "Loft")]
    told = {dates(forecast(make_drying(room, falling_to(6.3)))) for room in rooms}
    assert len(told) == 1


def test_thicker_wood_of_the_same_readings_is_not_forecast_sooner() -> None:
    place = make_air(6.3)
    thin, thick = (
        dates(forecast(make_drying(place, falling_to(6.3, months=months), thickness_mm=mm)))
        for mm, months in ((30.0, 3.5), (50.0, 5.5))
    )
    assert thin < thick


def test_wood_in_damp_air_never_gets_there_and_the_emc_in_the_way_is_named() -> None:
    shed = make_air(13.0, kind=PlaceKind.SHED, name="Long shed")
    row = forecast(make_drying(shed, falling_to(13.0, months=2)))
    assert row.state == ForecastState.NEVER
    assert row.median_on is row.high_on is None
    assert row.emc_in_the_way_pct == pytest.approx(13.0, abs=0.6)
    sentence = plain(stored_answer(row, TODAY).sentence)
    assert sentence.startswith("Will not get there in this air: in Long shed it settles at about 1")
    assert sentence.endswith("above the 8 % wanted.")


def test_wood_that_will_not_get_there_is_told_when_it_would_indoors() -> None:
    make_air(6.2, name="Warm room", kind=PlaceKind.CONDITIONING)
    make_air(7.4, name="Showroom", kind=PlaceKind.SHOWROOM)
    row = forecast(make_drying(make_air(13.0, kind=PlaceKind.SHED), falling_to(13.0)))
    assert row.moved_place is not None
    assert row.moved_place.name == "Warm room"
    assert row.moved_median_on is not None
    assert row.moved_median_on > TODAY
    assert moved_words(row, TODAY).startswith("Moved to Warm room today, it would most likely be")


def test_wood_below_the_target_is_dry_enough_now() -> None:
    row = forecast(make_drying(make_air(6.5), lambda days: 7.0))
    assert row.state == ForecastState.DRY_NOW
    assert p_by(row, TODAY) > 0.9
    assert stored_answer(row, TODAY).sentence.startswith("Dry enough already")


def test_green_wood_is_told_that_its_early_stage_is_another() -> None:
    slab = make_drying(make_air(6.3), lambda days: 60.0, days=20, checks=1)
    notes = stored_answer(forecast(slab), TODAY).notes
    assert any("above fibre saturation" in note for note in notes)
    assert any("only one check" in note for note in notes)


@pytest.mark.parametrize(
    ("slab", "state", "words"),
    [
        (lambda: make_slab(), ForecastState.NO_PLACE, "it has not been put anywhere"),
        (
            lambda: make_slab(place=make_place(name="Barn")),
            ForecastState.NO_AIR,
            "nobody has written down the air of Barn",
        ),
        (lambda: make_slab(place=make_air(6.0)), ForecastState.NO_CHECKS, "it wants a moisture"),
    ],
)
def test_what_cannot_be_said_is_said_to_be_missing(
    slab: Callable[[], Slab], state: ForecastState, words: str
) -> None:
    row = forecast(slab())
    assert (row.state, row.median_on, row.arrival_days) == (state, None, [])
    assert words in stored_answer(row, TODAY).sentence
    assert p_by(row, TODAY + timedelta(days=900)) == 0.0


def test_chances_grow_with_the_days_and_agree_with_the_interval() -> None:
    row = forecast(make_drying(make_air(6.3), falling_to(6.3)))
    days = [TODAY + timedelta(days=n) for n in range(0, 1400, 7)]
    chances = [p_by(row, day) for day in days]
    assert chances == sorted(chances)
    for day, share in zip(dates(row), (0.1, 0.5, 0.9), strict=True):
        # The whole day counts, so a little more than the point itself may be in by its end.
        assert share - 0.03 < p_by(row, day) < share + 0.12
        assert p_by(row, day - timedelta(days=1)) < share + 0.03


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.0, "less than 1 in 20"),
        (0.07, "about 1 in 10"),
        (0.68, "about 7 in 10"),
        (0.94, "about 9 in 10"),
        (1.0, "better than 19 in 20"),
    ],
)
def test_a_chance_is_never_certain(p: float, words: str) -> None:
    assert chance_words(p) == words


def test_the_same_facts_give_the_same_forecast_alone_or_among_others() -> None:
    place = make_air(6.3)
    slabs = [make_drying(place, falling_to(6.3, months=m), days=d) for m, d in ((4, 200), (6, 320))]
    together = forecasting.forecasts_for(slabs, TODAY)
    alone = [forecasting.forecasts_for([slab], TODAY)[0] for slab in slabs]
    assert [row.values() for row in together] == [row.values() for row in alone]


def test_a_check_makes_the_forecast_anew_in_its_own_transaction() -> None:
    slab, person = make_drying(make_air(6.3), falling_to(6.3), checks=2), make_person("Worker")
    before = forecast(slab)
    check = record(slab, person)
    row = SlabForecast.objects.get(slab=slab)
    assert row.check_id == check.pk
    assert dates(row) < dates(before)


def test_a_move_makes_the_forecast_anew_for_the_new_place() -> None:
    slab, dry = make_drying(make_air(13.0), falling_to(13.0)), make_air(6.0)
    assert forecast(slab).state == ForecastState.NEVER
    moves.move(slab, place=dry, bay=None, by=None, on=TODAY, now=NOW)
    row = SlabForecast.objects.get(slab=slab)
    assert (row.place_id, row.state) == (dry.pk, ForecastState.WILL_ARRIVE)


def test_a_great_stack_moved_at_once_loses_its_old_answers_and_gets_new_ones_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(forecasting, "MOST_IN_A_REQUEST", 1)
    shed, dry = make_air(13.0), make_air(6.0)
    slabs = [make_drying(shed, falling_to(13.0)) for _ in range(2)]
    call_command("reforecast", stdout=StringIO())
    moves.move_many(slabs, place=dry, bay=None, by=None, on=TODAY, now=NOW)
    assert not SlabForecast.objects.exists()
    out = StringIO()
    call_command("reforecast", stdout=out)
    assert out.getvalue() == "2 slabs forecast anew.\n"
    assert set(SlabForecast.objects.values_list("place", flat=True)) == {dry.pk}
    assert forecasting.wanting(TODAY) == []


def test_a_forecast_serves_for_a_week_and_is_then_made_anew_on_the_page() -> None:
    slab = forecast(make_drying(make_air(6.3), falling_to(6.3))).slab
    week = TODAY + timedelta(days=7)
    assert forecasting.wanting(week) == []
    assert forecasting.fresh(slab, week).made_on == TODAY  # type: ignore[union-attr]
    late = week + timedelta(days=1)
    assert forecasting.wanting(late) == [slab.pk]
    assert forecasting.fresh(slab, late).made_on == late  # type: ignore[union-attr]


def test_what_is_stored_can_be_made_again_from_the_facts_days_later() -> None:
    slab = forecast(make_drying(make_air(6.3), falling_to(6.3))).slab
    out = StringIO()
    with time_machine.travel(at(2026, 5, 23), tick=False):
        derive.write(Slab.objects.get(pk=slab.pk), TODAY + timedelta(days=3))
        call_command("rederive", "--check", "--forecasts", stdout=out)
    assert "1 forecasts" in out.getvalue()
    SlabForecast.objects.update(median_on=TODAY + timedelta(days=2), state="never")
    with pytest.raises(CommandError, match="drifted"):
        call_command("rederive", "--check", "--forecasts", stdout=out)
    assert f"{slab}, forecast of 2026-05-20: median_on is" in out.getvalue()
    call_command("rederive", "--forecasts", stdout=out)
    call_command("rederive", "--check", "--forecasts", stdout=out)


def test_air_that_came_in_later_makes_a_forecast_old_and_not_wrong() -> None:
    place = make_air(6.3)
    row = forecast(make_drying(place, falling_to(6.3)))
    place.air_days.filter(on=TODAY - timedelta(days=1)).update(emc_pct=9.0)
    assert forecasting.differences([row]) == {}
    read(row.slab, TODAY - timedelta(days=1), 12.0)
    assert row.slab_id in forecasting.differences([row])


def test_wet_wood_is_next_due_when_it_has_one_chance_in_ten_of_being_dry() -> None:
    row = forecast(make_drying(make_air(6.3), falling_to(6.3)))
    last = TODAY - timedelta(days=7)
    assert row.slab.checked_on == last
    ahead = min(max((dates(row)[0] - last).days, 7), 60)
    assert row.slab.check_due_on == last + timedelta(days=ahead)
    far = forecast(make_drying(make_air(6.3), falling_to(6.3, start_pct=90.0), days=60))
    assert dates(far)[0] > last + timedelta(days=60)
    assert far.slab.check_due_on == last + timedelta(days=60)


def test_a_weighing_counts_as_the_mean_of_the_whole_and_a_check_at_its_depths() -> None:
    slab = make_drying(make_air(7.0), falling_to(7.0), checks=2)
    entry = WeighingEntry(40.0, Basis.OVEN_DRY, oven_dry_kg=36.0)
    weighing.record_weighing(slab, entry, by=make_person("Worker"), on=TODAY, now=at(2026, 5, 20))
    told, _ = told_of([slab], TODAY)
    history = told[slab.pk].history
    assert history is not None
    shares = {reading.day: reading.depth_share for reading in history.readings}
    assert shares.pop(0.0) is None
    assert shares
    assert None not in shares.values()
    assert history.readings[-1].mc_pct == pytest.approx((40.0 - 36.0) / 36.0 * 100.0)


def test_what_to_do_next_names_the_day_the_forecast_does() -> None:
    slab = make_drying(make_air(6.5), falling_to(6.5), days=150)
    stored = forecast(slab)
    _, median_on, _ = dates(stored)
    judged = judging.judge_for(slab, TODAY, "metric")
    assert f"until about {day_words(median_on, TODAY)}" in judged.verdict.next_step
    slab.refresh_from_db()
    due_on = slab.check_due_on
    assert due_on is not None
    assert due_on <= median_on
    assert day_words(due_on, TODAY) in judged.verdict.next_step
    SlabForecast.objects.filter(slab=slab).update(check_id=0)
    stale = judging.judge_for(slab, TODAY, "metric").verdict.next_step
    assert "about" not in stale


def test_bulk_forecasts_take_as_many_queries_for_many_slabs_as_for_few() -> None:
    dry, shed = make_air(6.3), make_air(13.0)
    slabs = [make_drying(p, falling_to(9.0), checks=2) for _ in range(4) for p in (dry, shed)]
    fetched = list(Slab.objects.select_related("species").order_by("pk"))
    assert len(fetched) == len(slabs)

    def queries(some: list[Slab]) -> int:
        with CaptureQueriesContext(connection) as captured:
            forecasting.store_forecasts(forecasting.forecasts_for(some, TODAY))
        return len(captured)

    assert queries(fetched[:2]) == queries(fetched)


def test_a_slab_moved_between_places_has_lain_in_the_air_of_each() -> None:
    """Two slabs of the same readings: the one that came from damp air a month ago dries anew."""
    from inventory.models import DryingStage
    from inventory.slab_histories import told_of

    damp, dry = make_air(14.0), make_air(6.0)
    stayed, came = (make_drying(dry, falling_to(8.0)) for _ in range(2))
    month_ago = TODAY - timedelta(days=30)
    stage = DryingStage.objects.get(slab=came)
    DryingStage.objects.filter(pk=stage.pk).update(place=damp, ended_on=month_ago)
    DryingStage.objects.create(slab=came, kind="shop", place=dry, started_on=month_ago)
    told, _ = told_of([stayed, came], TODAY)
    dry_air, both = told[stayed.pk].history, told[came.pk].history
    assert dry_air is not None
    assert both is not None
    assert dry_air.air.days.sum() == both.air.days.sum() == 300
    assert dry_air.air.emc_pct.mean() == pytest.approx(6.0, abs=0.5)
    assert both.air.emc_pct[:20].mean() == pytest.approx(14.0, abs=0.6)
    assert both.air.emc_pct[-5:].mean() == pytest.approx(6.0, abs=1.2)
