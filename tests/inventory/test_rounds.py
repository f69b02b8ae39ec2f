"""The round: why a slab is due, where to go next; and what to read on a slab."""

from datetime import timedelta

import pytest

from inventory import reading_map, rounds
from inventory.models import Person, Slab
from inventory.reading_plan import Depth, depth_mm, depth_named, places_along, plan
from tests.factories import make_bay, make_log, make_slab
from tests.inventory.check_helpers import TODAY, record


def bay_of(count: int) -> list[Slab]:
    """Slabs of one log in one bay, in sawn order."""
    bay, log = make_bay(), make_log()
    return [
        make_slab(log=log, number_in_log=number, place=bay.place, bay=bay)
        for number in range(1, count + 1)
    ]


def next_slab(slab: Slab) -> Slab | None:
    found = rounds.next_after(slab, TODAY)
    return found.slab if found else None


@pytest.mark.django_db
def test_the_next_slab_is_the_one_after_and_the_last_goes_round_to_the_first() -> None:
    first, second, third = bay_of(3)
    assert next_slab(first) == second
    assert next_slab(third) == first


def test_slabs_not_due_are_passed_by(worker: Person) -> None:
    first, second, third = bay_of(3)
    record(second, worker)
    assert next_slab(first) == third


def test_when_the_bay_is_done_the_way_goes_on_in_the_place(worker: Person) -> None:
    first, second = bay_of(2)
    other = make_slab(place=first.place)
    for slab in (first, second):
        record(slab, worker)
    found = rounds.next_after(first, TODAY)
    assert found is not None
    assert (found.slab, found.is_due, found.is_same_bay) == (other, True, False)


def test_when_nothing_is_due_the_neighbour_in_the_bay_is_offered(worker: Person) -> None:
    first, second = bay_of(2)
    for slab in (first, second):
        record(slab, worker)
    found = rounds.next_after(first, TODAY)
    assert found is not None
    assert (found.slab, found.is_due) == (second, False)


@pytest.mark.django_db
def test_a_slab_alone_has_no_next() -> None:
    assert next_slab(bay_of(1)[0]) is None


def test_why_a_slab_is_due_is_a_sentence(worker: Person) -> None:
    slab = make_slab()
    assert rounds.why_due(slab, TODAY) == "Never checked."
    record(slab, worker, on=TODAY - timedelta(days=40))
    assert rounds.why_due(slab, TODAY) == (
        "Its last check does not tell how dry it is. Last checked on 10 April."
    )


def test_thick_wood_wants_five_readings_and_thin_wood_three() -> None:
    assert [planned.depth for planned in plan(2400, 54)] == [
        Depth.AIM,
        Depth.SHELL,
        Depth.AIM,
        Depth.CORE,
        Depth.AIM,
    ]
    assert [planned.depth for planned in plan(2400, 32)] == [Depth.AIM] * 3


@pytest.mark.parametrize("length_mm", [1200.0, 1800.0, 2400.0, 4000.0])
def test_readings_keep_300_mm_from_the_ends_where_length_allows(length_mm: float) -> None:
    """12 in from the end: common practice."""
    places = places_along(length_mm).values()
    assert all(min(share, 1 - share) * length_mm >= 299 for share in places)


def test_a_short_slab_is_read_at_its_quarters() -> None:
    assert list(places_along(600.0).values()) == [0.25, 0.5, 0.75]


def test_single_readings_are_aimed_at_the_mean_of_the_section() -> None:
    """0.47 in on a 2.25 in slab: 0.211 of the thickness, (1 − 1/√3)/2 of a parabolic gradient
    (James, FPL-GTR-6, 1988, from memory: pins at 1/5 to 1/4 of the thickness)."""
    aimed_mm = depth_mm(Depth.AIM, 2.25 * 25.4)
    assert aimed_mm == pytest.approx(0.47 * 25.4, abs=0.13)
    assert aimed_mm == pytest.approx((1 - 3**-0.5) / 2 * 2.25 * 25.4, rel=0.002)


def test_the_planned_readings_have_the_mean_of_a_parabolic_section() -> None:
    """Shell, aim and core beside two aimed readings: within a hundredth of the true two thirds."""

    def parabola(share: float) -> float:
        return 1 - (1 - 2 * share) ** 2

    shares = [(depth_mm(planned.depth, 54.0) or 0) / 54.0 for planned in plan(2400, 54.0)]
    mean = sum(parabola(share) for share in shares) / len(shares)
    assert mean == pytest.approx(2 / 3, abs=0.01)


def test_a_stored_depth_is_known_again() -> None:
    for depth in (Depth.AIM, Depth.SHELL, Depth.CORE):
        assert depth_named(depth_mm(depth, 54.0) or 0, 54.0) is depth
    assert depth_named(20.0, 54.0) is None


def test_the_map_tells_shell_and_core_apart_by_shape_and_in_words(worker: Person) -> None:
    slab = make_slab()
    readings = list(record(slab, worker).readings.all())
    strip = reading_map.strip(slab, readings)
    assert [mark.shape for mark in strip.marks] == [
        "diamond",
        "square",
        "diamond",
        "disc",
        "diamond",
    ]
    assert "7.5 % at 50% of the length, core" in strip.words
    in_middle = [mark for mark in strip.marks if mark.x == strip.marks[1].x]
    assert len({mark.y for mark in in_middle}) == 3


@pytest.mark.django_db
def test_a_slab_without_widths_still_has_a_map() -> None:
    slab = make_slab()
    slab.widths = []
    assert reading_map.strip(slab).path.startswith("M")
