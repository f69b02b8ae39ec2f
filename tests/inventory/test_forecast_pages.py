"""When a slab will be dry, here or elsewhere; when what is ready; who may ask."""

from collections.abc import Iterator
from datetime import timedelta
from html.parser import HTMLParser

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import forecasting, ready_chart, ready_when, what_if
from inventory.models import ForecastState, Place, PlaceKind, Slab, SlabForecast, Species
from inventory.readiness import INTERIOR, Target, Use, target_for
from inventory.ready_when import MOVED, SAFE, Asked
from tests.factories import at, copy_slab, make_slab, make_species
from tests.inventory.forecast_helpers import TODAY, falling_to, forecast, make_air, make_drying

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at(2026, 5, 20, 10), tick=False):
        yield


class _Text(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def text_of(browser: Client, address: str, status: int = 200) -> str:
    page = browser.get(address)
    assert page.status_code == status
    parser = _Text()
    parser.feed(page.content.decode())
    return " ".join(" ".join(parser.said).split()).replace("\N{NO-BREAK SPACE}", " ")


@pytest.fixture
def shed() -> Place:
    return make_air(13.0, kind=PlaceKind.SHED, name="Long shed", position=1)


@pytest.fixture
def room() -> Place:
    return make_air(6.2, kind=PlaceKind.CONDITIONING, name="Warm room", position=2)


def when(slab: Slab, query: str = "") -> str:
    return reverse("inventory:slab_when", args=[slab.code]) + query


# --- what if it moved ---------------------------------------------------------------------------


def test_every_place_answers_where_it_lies_first_and_then_the_soonest(
    shed: Place, room: Place
) -> None:
    damp = make_air(16.0, kind=PlaceKind.YARD, name="Top yard", position=0)
    slab = make_drying(shed, falling_to(13.0))
    found = what_if.what_if(slab, TODAY, INTERIOR, TODAY + timedelta(days=700))
    assert [one.place for one in found.places] == [shed, room, damp]
    states = [one.answer.state for one in found.places]
    assert states == [ForecastState.NEVER, ForecastState.WILL_ARRIVE, ForecastState.NEVER]
    assert found.best is not None
    assert found.best.place == room
    here, there, _ = (one.p for one in found.places)
    assert here is not None
    assert there is not None
    assert here < 0.1 < 0.9 < there


def test_dry_wood_is_not_promised_dry_in_air_that_would_wet_it_again(
    owner_client: Client, shed: Place, room: Place
) -> None:
    slab = make_drying(room, lambda days: 7.0)
    here, damp = what_if.what_if(slab, TODAY, INTERIOR, TODAY + timedelta(days=90)).places
    assert (here.wets_it, damp.wets_it) == (False, True)
    assert here.chance
    assert not damp.chance
    assert "Already, but this air would wet it again" in text_of(owner_client, when(slab))


def test_where_it_lies_the_answer_is_the_stored_one(room: Place) -> None:
    slab = make_drying(room, falling_to(6.2))
    row = forecast(slab)
    here = what_if.what_if(slab, TODAY, INTERIOR).here
    assert here is not None
    answer = here.answer
    assert (answer.low_on, answer.median_on, answer.high_on) == (
        row.low_on, row.median_on, row.high_on,
    )  # fmt: skip


def test_a_wetter_target_is_reached_sooner(shed: Place) -> None:
    slab = make_drying(shed, falling_to(11.0))
    outdoor = what_if.what_if(slab, TODAY, target_for(Use.OUTDOOR)).here
    dry = what_if.what_if(slab, TODAY, Target(6, 8, Use.INTERIOR)).here
    assert outdoor is not None
    assert dry is not None
    # The shed settles a point below 14 %: it gets there, by when hangs on the weather drawn.
    assert outdoor.answer.state != ForecastState.NEVER
    assert outdoor.answer.low_on is not None
    assert dry.answer.state == ForecastState.NEVER


def test_the_page_says_it_in_words_and_cautions_of_wet_wood(
    owner_client: Client, shed: Place, room: Place
) -> None:
    slab = make_drying(shed, falling_to(13.0, start_pct=70.0), days=120)
    text = text_of(owner_client, when(slab))
    assert "Will not get there in this air: in Long shed it settles at about" in text
    assert "Soonest in Warm room:" in text
    assert "Wet wood put straight into warm, dry air can crack" in text
    assert "Chance of being dry enough by 19 August" in text


def test_a_place_without_air_is_named_as_such(owner_client: Client, room: Place) -> None:
    Place.objects.create(name="New barn", kind=PlaceKind.SHED)
    text = text_of(owner_client, when(make_drying(room, falling_to(6.2))))
    assert "New barn Its air is not on record. Air not known" in text


def test_a_slab_never_checked_is_told_what_it_wants(owner_client: Client, room: Place) -> None:
    assert "it wants a moisture check" in text_of(owner_client, when(make_slab(place=room)))


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("?for=range&low=8&high=6", "This must be the wetter end of the range."),
        ("?for=range&low=&high=6", "Say from which moisture to which."),
        ("?for=range&low=six&high=8", "is not a number"),
        ("?for=air&temp=70&rh=140", "RH"),
        ("?for=air&temp=&rh=40", "The home's air is wanted to reckon with."),
        ("?by=soon", "That is no day"),
        ("?for=boats", "to choose"),
    ],
)
def test_what_cannot_be_asked_is_said_beside_its_field_and_kept(
    owner_client: Client, room: Place, query: str, sentence: str
) -> None:
    slab = make_drying(room, falling_to(6.2), checks=2)
    assert sentence in text_of(owner_client, when(slab, query), status=422)
    typed = owner_client.get(when(slab, "?for=range&low=six&high=8")).content.decode()
    assert 'value="six"' in typed


def test_the_air_of_a_home_is_a_target_too(owner_client: Client, room: Place) -> None:
    slab = make_drying(room, falling_to(6.2))
    text = text_of(owner_client, when(slab, "?for=air&temp=21+C&rh=60&by=2026-12-24"))
    assert "Dry enough for that home: a mean of 12" in text
    assert "by 24 December" in text


def test_what_if_takes_as_many_queries_with_many_places_as_with_few(room: Place) -> None:
    slab = make_drying(room, falling_to(6.2), checks=2)
    make_air(9.0)

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            what_if.what_if(slab, TODAY, INTERIOR)
        return len(captured)

    few = queries()
    for _ in range(3):
        make_air(9.0)
    assert queries() == few


# --- on the slab's page ------------------------------------------------------------------------


def test_the_slabs_page_says_when_and_draws_it_ahead(owner_client: Client, room: Place) -> None:
    slab = make_drying(room, falling_to(6.2))
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert "Most likely dry enough around" in page
    assert when(slab) in page
    assert 'class="chart-band"' in page
    assert 'class="chart-ahead"' in page


def test_a_client_is_shown_no_forecast_and_no_door_to_one(
    owner_client: Client, room: Place
) -> None:
    slab = make_drying(room, falling_to(6.2))
    owner_client.post(reverse("catalogue:client_view"), {"on": "yes"})
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert "Most likely dry" not in page
    assert when(slab) not in page
    assert owner_client.get(when(slab)).status_code == 403
    assert owner_client.get(reverse("inventory:ready_when")).status_code == 403
    assert reverse("inventory:ready_when") not in owner_client.get("/slabs/").content.decode()


# --- when what is ready ---------------------------------------------------------------------------


def stock(*rows: tuple[str, int | None, str]) -> None:
    """Slabs with forecasts as given: species, days to the likeliest day, state."""
    for name, days, state in rows:
        species = _known(name) or make_species(common_name=name)
        day = None if days is None else TODAY + timedelta(days=days)
        SlabForecast.objects.create(
            slab=make_slab(species=species), target_low_pct=6, target_high_pct=8, made_on=TODAY,
            horizon_on=TODAY + timedelta(days=1461), state=state, median_on=day,
            high_on=day and day + timedelta(days=40), marks="x",
        )  # fmt: skip


def _known(name: str) -> Species | None:
    return Species.objects.filter(common_name=name).first()


def by_period(asked: Asked) -> dict[str, int]:
    found = ready_when.ready_when(asked, TODAY)
    return {row.period.words: row.total.pieces for row in found.rows if row.total.pieces}


STOCK = (
    ("Ash", None, "dry_now"),
    ("Ash", 3, "will_arrive"),
    ("Oak", 20, "will_arrive"),
    ("Oak", 25, "will_arrive"),
    ("Oak", 500, "will_arrive"),
    ("Elm", None, "never"),
    ("Elm", None, "no_air"),
)


def test_pieces_are_counted_in_the_month_of_their_day() -> None:
    stock(*STOCK)
    make_slab()
    assert by_period(Asked()) == {
        "Dry enough now": 1,
        "May 2026": 1,
        "June 2026": 2,
        "After April 2027": 1,
        "Not in this air": 1,
        "Not known": 2,
    }
    assert by_period(Asked(sure=SAFE))["July 2026"] == 3


def test_the_table_sums_to_the_stock_it_counts() -> None:
    stock(*STOCK)
    found = ready_when.ready_when(Asked(), TODAY)
    assert found.total.pieces == Slab.objects.in_stock().count() == len(STOCK)
    volume = sum(Slab.objects.values_list("volume_mm3", flat=True))
    assert found.total.volume_mm3 == pytest.approx(volume)
    for row in found.rows:
        assert sum(part.pieces for part in row.parts) == row.total.pieces
        assert sum(part.volume_mm3 for part in row.parts) == pytest.approx(row.total.volume_mm3)
        shown = ready_when.listed(found, row.period.key, TODAY)
        assert (shown.count if shown else 0) == row.total.pieces
        assert shown is None or len(shown.slabs) == row.total.pieces


def test_filters_leave_what_was_asked_for() -> None:
    stock(*STOCK)
    oak = Species.objects.get(common_name="Oak").pk
    assert by_period(Asked(species=oak)) == {"June 2026": 2, "After April 2027": 1}
    assert by_period(Asked(least_mm=80.0)) == {}
    assert by_period(Asked(most_mm=54.0)) == by_period(Asked(least_mm=54.0)) == by_period(Asked())
    Slab.objects.filter(species=oak).update(standing="allotted")
    assert "June 2026" not in by_period(Asked(free_only=True))
    Slab.objects.filter(species=oak).update(standing="gone", gone_how="sold")
    assert "June 2026" not in by_period(Asked())


def test_wood_that_never_would_may_be_counted_as_moved_indoors(shed: Place, room: Place) -> None:
    row = forecast(make_drying(shed, falling_to(13.0)))
    assert by_period(Asked()) == {"Not in this air": 1}
    day = row.moved_median_on
    assert day is not None
    assert list(by_period(Asked(air=MOVED))) in ([f"{day:%B %Y}"], ["After April 2027"])
    assert ready_when.ready_when(Asked(air=MOVED), TODAY).moved_to == ("Warm room",)


def test_bars_stand_for_the_wood_of_their_months() -> None:
    stock(*STOCK)
    found = ready_when.ready_when(Asked(), TODAY)
    chart = ready_chart.chart_of(found)
    assert chart is not None
    heights = [sum(part.height for part in bar.parts) for bar in chart.bars]
    wood = [row.total.volume_mm3 for row in found.months]
    assert heights[1] / heights[0] == pytest.approx(wood[1] / wood[0], rel=1e-3)
    assert [name for _, name in chart.legend] == ["Oak", "Ash"]
    assert "June 2026 2 pieces" in chart.words


def test_the_page_shows_chart_table_and_the_slabs_of_a_month(owner_client: Client) -> None:
    stock(*STOCK)
    text = text_of(owner_client, reverse("inventory:ready_when") + "?month=2026-06")
    assert "June 2026 2 " in text
    assert text.count("What if it moved") == 2
    empty = text_of(owner_client, reverse("inventory:ready_when") + "?least=4+in&species=x")
    assert "June 2026 2 " in empty, "what cannot be read narrows nothing"


def test_the_page_takes_as_many_queries_for_many_slabs_as_for_few(owner_client: Client) -> None:
    stock(*STOCK)

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            owner_client.get(reverse("inventory:ready_when") + "?month=2026-06&air=moved")
        return len(captured)

    queries()  # The first request of a day has the day's own to do.
    few = queries()
    copy_slab(Slab.objects.all()[0], 30)
    stock(*STOCK, *STOCK)
    assert queries() == few


def test_old_forecasts_are_made_anew_by_a_press_a_hundred_at_a_time(
    worker_client: Client, room: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inventory.views.forecast.A_PRESS", 2)
    for _ in range(3):
        make_slab(place=room)
    text = text_of(worker_client, reverse("inventory:ready_when"))
    assert "3 forecasts are missing" in text
    answer = worker_client.post(reverse("inventory:reforecast"), follow=True)
    assert "2 forecasts made anew; 1 to go." in answer.content.decode()
    part = worker_client.post(reverse("inventory:reforecast"), headers={"HX-Request": "true"})
    assert "All forecasts are made anew." in part.content.decode()
    assert forecasting.wanting(TODAY) == []


def test_a_buyer_reads_but_does_not_make_forecasts_anew(buyer_client: Client) -> None:
    make_slab()
    assert "somebody who checks slabs" in text_of(buyer_client, reverse("inventory:ready_when"))
    assert buyer_client.post(reverse("inventory:reforecast")).status_code == 403
