"""The charts: what is drawn, what is told to those who cannot see it, and nothing styled inline."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import air, charts, moves
from inventory.models import AirGiven, MoistureCheck, Person, Place, PlaceKind, Slab
from inventory.readiness import INTERIOR
from tests.factories import at, make_place, make_slab

pytestmark = pytest.mark.django_db
NOW = at(2026, 5, 20)
TODAY = NOW.date()
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def make_check(slab: Slab, on: date, mean: float, **kwargs: object) -> MoistureCheck:
    return MoistureCheck.objects.create(slab=slab, on=on, at=NOW, mean_pct=mean, **kwargs)


def record(place: Place, on: date, rh: float = 45.0, temp_c: float = 20.0) -> None:
    moment = at(on.year, on.month, on.day, 12)
    air.record_air(
        place, at=moment, temp_c=temp_c, given=AirGiven.RH, value=rh, by=None, now=NOW
    )  # fmt: skip


@pytest.fixture
def dried(worker: Person) -> Slab:
    """Four checks, two with shell and core, from the shed into the shop, with air in both."""
    shed, shop = make_place(PlaceKind.SHED, name="Shed"), make_place(PlaceKind.SHOP, name="Shop")
    slab = make_slab()
    moves.move(slab, place=shed, bay=None, by=worker, on=date(2025, 9, 1), now=NOW)
    moves.move(slab, place=shop, bay=None, by=worker, on=date(2026, 4, 1), now=NOW)
    for on, mean in ((date(2025, 9, 1), 24.0), (date(2025, 12, 1), 15.0)):
        make_check(slab, on, mean)
    for on, mean in ((date(2026, 3, 1), 11.0), (date(2026, 5, 1), 7.6)):
        make_check(slab, on, mean, shell_pct=mean - 0.5, core_pct=mean + 0.7)
    for place in (shed, shop):
        record(place, date(2026, 3, 30), rh=70.0)
        record(place, date(2026, 4, 5), rh=40.0)
    return slab


def drawings(html: str) -> dict[str, ET.Element]:
    found = re.findall(r'chart-drawing chart-(\w+)">(<svg.*?</svg>)', html, re.DOTALL)
    return {name: ET.fromstring(svg) for name, svg in found}


def marks(svg: ET.Element, name: str) -> int:
    groups = [g for g in svg.iter(f"{SVG}g") if g.get("class") == f"chart-{name}"]
    return sum(len(list(group.iter(f"{SVG}use"))) for group in groups)


def test_both_drawings_parse_and_carry_no_style(dried: Slab) -> None:
    html = charts.moisture_chart(dried, TODAY, "imperial")
    assert set(drawings(html)) == {"wide", "narrow"}
    assert "style" not in html
    for svg in drawings(html).values():
        assert not any("style" in element.attrib for element in svg.iter())
        assert {"width", "height"}.isdisjoint(svg.attrib)
        assert svg.get("viewBox")


def test_colours_are_the_pages_own(dried: Slab) -> None:
    html = charts.moisture_chart(dried, TODAY, "imperial")
    for svg in drawings(html).values():
        colours = {e.get(name) for e in svg.iter() for name in ("fill", "stroke")}
        assert colours <= {None, "none", "currentColor"}
    assert not re.search(r"#[0-9a-f]{6}\b", html)


def test_each_reading_has_its_mark(dried: Slab) -> None:
    for svg in drawings(charts.moisture_chart(dried, TODAY, "imperial")).values():
        assert (marks(svg, "mean"), marks(svg, "shell"), marks(svg, "core")) == (4, 2, 2)


def test_a_corrected_check_is_not_drawn(dried: Slab) -> None:
    wrong = MoistureCheck.objects.get(slab=dried, on=date(2025, 12, 1))
    make_check(dried, wrong.on, 16.0, supersedes=wrong)
    html = charts.moisture_chart(dried, TODAY, "imperial")
    assert marks(drawings(html)["wide"], "mean") == 4
    assert "16.0" in html
    assert "15.0" not in html


def test_title_and_description_are_wired_and_say_the_data(dried: Slab) -> None:
    for svg in drawings(charts.moisture_chart(dried, TODAY, "imperial")).values():
        title, desc = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
        assert title is not None
        assert desc is not None
        assert svg.get("role") == "img"
        assert svg.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
        words = (desc.text or "").replace("\N{NO-BREAK SPACE}", " ")
        assert title.text == f"Moisture of {dried} over time"
        assert "24.0 % on 1 September 2025 and fell to 7.6 % by 1 May, over 4 checks" in words
        assert "At the last check the core 8.3 % and the shell 7.1 %." in words
        assert "The target is 6–8 %." in words


def test_no_id_is_used_twice_though_two_charts_stand_on_a_page(dried: Slab) -> None:
    other = make_slab()
    make_check(other, TODAY, 9.0)
    html = "".join(charts.moisture_chart(slab, TODAY, "imperial") for slab in (dried, other))
    ids = re.findall(r' id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    referred = re.findall(r'(?:href="#|url\(#)([^")]+)', html)
    assert set(referred) <= set(ids)


def test_the_numbers_stand_in_a_table(dried: Slab) -> None:
    html = charts.moisture_chart(dried, TODAY, "imperial")
    checks_table, stages_table = re.findall(r"<table>.*?</table>", html, re.DOTALL)
    assert checks_table.count("<tr>") == 1 + 4
    assert "8.3" in checks_table
    assert stages_table.count("<tr>") == 1 + 2
    assert "Air, Shed" in stages_table
    assert "now" in stages_table


def test_the_air_is_that_of_the_place_where_the_slab_lay(dried: Slab) -> None:
    """In March it lay in the shed, in April in the shop; each place's other days are not its."""
    history = charts.moisture_history(
        charts._checks_of(dried), charts._stages_of(dried, TODAY), INTERIOR, TODAY
    )
    days = air.air_days([(s.place_id or 0, date(2026, 3, 1), TODAY) for s in history.stages])
    by_day = {(d.place_id, d.on): d.emc_pct for d in days}
    shed, shop = (stage.place_id for stage in history.stages)
    assert history.air_step_days == 7
    assert [mean.emc_pct for mean in history.air] == pytest.approx(
        [by_day[shed or 0, date(2026, 3, 30)], by_day[shop or 0, date(2026, 4, 5)]]
    )


def test_a_short_history_is_drawn_by_days(worker: Person) -> None:
    shop, slab = make_place(), make_slab()
    moves.move(slab, place=shop, bay=None, by=worker, on=date(2026, 5, 1), now=NOW)
    make_check(slab, date(2026, 5, 2), 8.0)
    for day in range(3, 15):
        record(shop, date(2026, 5, day))
    html = charts.moisture_chart(slab, TODAY, "metric")
    assert "by days" in html
    history = charts.moisture_history(
        charts._checks_of(slab), charts._stages_of(slab, TODAY), INTERIOR, TODAY
    )
    assert len(history.air) == 12


def test_a_slab_never_checked_has_a_sentence_instead() -> None:
    html = charts.moisture_chart(make_slab(), TODAY, "imperial")
    assert "No moisture check yet" in html
    assert "<svg" not in html


def test_an_unchanged_chart_is_not_drawn_again(
    dried: Slab, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = charts.moisture_chart(dried, TODAY, "imperial")
    monkeypatch.setattr(charts, "_moisture_part", lambda *a: pytest.fail("drawn again"))
    with CaptureQueriesContext(connection) as asked:
        assert charts.moisture_chart(dried, TODAY, "imperial") == first
    assert len(asked) <= 3


@pytest.mark.parametrize("what", ["check", "air", "stage", "day"])
def test_a_chart_is_drawn_again_when_a_fact_or_the_day_changes(
    what: str, dried: Slab, worker: Person
) -> None:
    first = charts.moisture_chart(dried, TODAY, "imperial")
    on = TODAY
    if what == "check":
        make_check(dried, TODAY, 7.4)
    elif what == "air":
        assert dried.place is not None
        record(dried.place, TODAY - timedelta(days=1))
    elif what == "stage":
        moves.move(dried, place=make_place(), bay=None, by=worker, on=TODAY, now=NOW)
    else:
        on = TODAY + timedelta(days=1)
    assert charts.moisture_chart(dried, on, "imperial") != first


def test_the_year_of_a_place_is_told_in_the_viewers_units() -> None:
    shop = make_place(name="Shop")
    record(shop, date(2026, 1, 10), temp_c=10.0, rh=60.0)
    record(shop, date(2026, 5, 10), temp_c=20.0, rh=40.0)
    for system, words in (("metric", "from 10 °C to 20 °C"), ("imperial", "from 50 °F to 68 °F")):
        html = charts.air_chart(shop, NOW, system).replace("\N{NO-BREAK SPACE}", " ")
        assert words in html
        assert html.count("<tr>") == 1 + 2
        assert "style" not in html
    assert charts.air_chart(make_place(), NOW, "metric") == ""


def test_what_people_named_a_place_is_text_and_not_markup(worker: Person) -> None:
    slab, odd = make_slab(), make_place(name="<b>Shed & co</b>")
    moves.move(slab, place=odd, bay=None, by=worker, on=date(2026, 1, 1), now=NOW)
    make_check(slab, date(2026, 1, 2), 12.0)
    record(odd, date(2026, 5, 1))
    for html in (
        charts.moisture_chart(slab, TODAY, "metric"),
        charts.air_chart(odd, NOW, "metric"),
    ):
        assert "<b>" not in html
        assert "&lt;b&gt;Shed &amp; co" in html
