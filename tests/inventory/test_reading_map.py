"""Readings drawn where they were taken, and what they show in sentences."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory import reading_map
from inventory.checks import ReadingEntry
from inventory.models import MoistureCheck, Person, Slab
from inventory.reading_map import ReadingMap
from tests.factories import make_meter, make_slab
from tests.inventory.check_helpers import record, typed


def drawn(slab: Slab, by: Person, *readings: ReadingEntry) -> ReadingMap:
    check = record(slab, by, readings=readings) if readings else record(slab, by)
    found = reading_map.reading_map(slab, check, list(check.readings.all()), "metric")
    assert found is not None
    return found


def reading(pct: float, along: float = 0.5, **kwargs: Any) -> ReadingEntry:
    return ReadingEntry(pct, along=along, **kwargs)


def test_along_the_length_marks_lie_where_they_were_taken(worker: Person) -> None:
    found = drawn(make_slab(), worker, reading(8, 0.25), reading(9, 0.5), reading(10, 0.75))
    xs = [mark.x for mark in found.plan.marks]
    inner = reading_map.WIDTH - 2 * reading_map.MARGIN
    assert xs == [reading_map.MARGIN + share * inner for share in (0.25, 0.5, 0.75)]


def test_across_the_near_edge_is_below_and_marks_stay_on_the_wood(worker: Person) -> None:
    slab = make_slab(widths=[(0.0, 600.0), (1.0, 900.0)])
    near, middle, far = drawn(
        slab,
        worker,
        reading(8, 0.5, across=0.15),
        reading(9, 0.5, across=0.5),
        reading(10, 0.5, across=0.85),
    ).plan.marks
    assert near.y > middle.y > far.y
    scale = (reading_map.WIDTH - 2 * reading_map.MARGIN) / slab.length_mm
    assert near.y - middle.y == pytest.approx(0.35 * 750 * scale, abs=0.2)


def test_in_the_section_marks_lie_at_their_depth(worker: Person) -> None:
    slab = make_slab(thickness_mm=50.0)
    found = drawn(
        slab,
        worker,
        reading(7, 0.2, depth_mm=5),
        reading(8, 0.5, depth_mm=25),
        reading(9, 0.8, zone="between"),
        reading(9, 0.9),
    ).section
    assert found is not None
    deep = [(mark.y - found.y) / found.height for mark in found.marks]
    assert deep == pytest.approx([0.1, 0.5, 0.3], abs=0.01)
    assert [mark.shape for mark in found.marks] == ["square", "disc", "diamond"]
    assert found.thickness_words == "50\N{NO-BREAK SPACE}mm"
    shell, core, _ = found.bands
    assert (shell.height, core.height) == (found.height / 5, found.height / 5)


def test_marks_that_would_hide_each_other_stand_apart(worker: Person) -> None:
    found = drawn(make_slab(), worker, *[reading(8 + n / 10, 0.5, depth_mm=27) for n in range(4)])
    assert found.section is not None
    for marks in (found.plan.marks, found.section.marks):
        places = {(mark.x, mark.y) for mark in marks}
        assert len(places) == 4


def test_readings_without_depth_have_no_section(worker: Person) -> None:
    found = drawn(make_slab(), worker, reading(8, 0.5), reading(8, 0.9))
    assert found.section is None
    assert found.plan.zones == (("ring", "depth not said"),)


@pytest.mark.parametrize(
    ("readings", "sentences"),
    [
        (
            [reading(9.0, 0.2, zone="shell"), reading(11.1, 0.5, zone="core")],
            ["The core is 2.1 above the shell."],
        ),
        (
            [reading(9.4, 0.5, zone="shell"), reading(9.0, 0.5, zone="core")],
            ["The shell is 0.4 above the core: it has taken up moisture from the air."],
        ),
        (
            [reading(9.0, 0.5, zone="shell"), reading(9.0, 0.5, zone="core")],
            ["Core and shell are the same."],
        ),
        (
            [reading(9.0, 0.1), reading(9.2, 0.5), reading(9.9, 0.9, across=0.85)],
            [
                "Core and shell were not both read: how much wetter the core is is not known.",
                "Along the length it differs by 0.9, wettest at the right end.",
                "The wettest reading is 9.9 % at the right end, by the far edge.",
            ],
        ),
        ([reading(9.0, 0.1), reading(9.0, 0.9)], ["Along the length it is the same."]),
        (
            [reading(9.0, 0.5)],
            ["How even it is along the length is not known: one depth was read at one place."],
        ),
    ],
)
def test_gradient_and_spread_in_words(
    worker: Person, readings: list[ReadingEntry], sentences: list[str]
) -> None:
    said = [
        s.replace("\N{NO-BREAK SPACE}", " ")
        for s in drawn(make_slab(), worker, *readings).sentences
    ]
    for sentence in sentences:
        assert sentence in said


def test_a_thin_slab_is_not_asked_for_its_core(worker: Person) -> None:
    found = drawn(make_slab(thickness_mm=28.0), worker, reading(9, 0.2), reading(9, 0.8))
    assert not any("core" in sentence.lower() for sentence in found.sentences)


def test_the_map_is_on_the_checks_and_the_slabs_page_and_not_for_clients(
    worker: Person, owner_client: Client
) -> None:
    slab = make_slab()
    check = record(slab, worker)
    for url in (reverse("inventory:check_page", args=[check.pk]), slab.get_absolute_url()):
        page = owner_client.get(url).content.decode()
        assert "The core is 0.6 above the shell." in page
        assert len(re.findall(r'<g class="mark mark-disc">', page)) == 2
        assert "band-core" in page
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert "above the shell" not in owner_client.get(slab.get_absolute_url()).content.decode()


def test_across_is_typed_kept_and_said(worker_client: Client) -> None:
    slab = make_slab()
    data = typed(make_meter().pk, "9.1", "8.6", **{"r0-across": "0.15", "r1-across": ""})
    response: Any = worker_client.post(reverse("inventory:check_new", args=[slab.code]), data)
    check = MoistureCheck.objects.get()
    assert [r.across for r in check.readings.all()] == [0.15, None]
    assert "near edge" in worker_client.get(response.url).content.decode()
    again = worker_client.get(reverse("inventory:check_correct", args=[check.pk]))
    assert '<option value="0.15" selected>Near edge</option>' in again.content.decode()


def test_a_weighing_has_no_map(worker: Person) -> None:
    slab = make_slab()
    check = record(slab, worker)
    check.weighing_id = 1
    assert reading_map.reading_map(slab, check, list(check.readings.all()), "metric") is None
