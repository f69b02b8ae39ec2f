"""Candidates for a commission: only free wood, in a plain order, each reason true of it."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from catalogue import matching, near_misses, options, promises
from catalogue.match_words import Voice
from catalogue.matching import Candidate, Ranking
from catalogue.models import Commission, HowMade, TopShape
from catalogue.near_misses import NearMiss
from inventory import derive, holds
from inventory.models import GoneHow, Person, Slab
from inventory.wood import humidity
from tests.catalogue.wood import NOW, TODAY, level, make_boule, make_checked
from tests.factories import make_commission, make_slab, make_species

pytestmark = pytest.mark.django_db
METRIC = Voice("metric")


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def rank(commission: Commission, voice: Voice = METRIC) -> Ranking:
    return matching.candidates(commission, TODAY, voice)


def missed(commission: Commission) -> list[NearMiss]:
    return near_misses.near_misses(commission, rank(commission), TODAY, METRIC)


def found(commission: Commission) -> list[tuple[Slab, ...]]:
    return [candidate.slabs for candidate in rank(commission).found]


def said(candidate: Candidate) -> dict[str, str]:
    return {reason.about: reason.sentence.replace("\xa0", " ") for reason in candidate.said}


def words(miss: NearMiss) -> str:
    return miss.in_words.replace("\xa0", " ")


def test_a_free_dry_slab_large_enough_is_found_with_its_reasons() -> None:
    slab = make_checked(7.0, widths=level(700), length_mm=2000, asking_price=Decimal(700))
    commission = make_commission(budget=Decimal(800))
    ranking = rank(commission)
    assert [candidate.slabs for candidate in ranking.found] == [(slab,)]
    reasons = said(ranking.found[0])
    assert reasons["fit"] == "It fits, with 50 mm to spare on every side."
    assert reasons["thickness"] == "54 mm thick: 48 mm after flattening, 40 mm wanted."
    assert reasons["moisture"] == "Ready for interior furniture."
    assert reasons["price"] == "Asking $700.00, $100.00 under the budget."
    # 2.0 × 0.7 − 1.8 × 0.6 = 0.32 m², less the saw's 3 mm round the top: 0.306 m² of 54 mm. The
    # strips at its sides and ends are under 100 mm wide.
    assert reasons["left_over"] == "Leaves 0.017 m³, 22% of the wood."


def test_cost_is_said_only_to_those_who_see_it() -> None:
    make_checked(7.0, own_cost=Decimal(210), cost=Decimal(210))
    commission = make_commission()
    assert "cost" not in said(rank(commission).found[0])["price"]
    seen = said(rank(commission, Voice("metric", sees_cost=True)).found[0])
    assert seen["price"].endswith("It cost $210.00.")


def test_held_allotted_and_gone_slabs_are_never_offered_as_free(owner: Person) -> None:
    held, allotted, used = (make_checked(7.0) for _ in range(3))
    holds.place_hold(held, label="x", until=TODAY + timedelta(days=23), by=owner, now=NOW)
    holds.allot(allotted, label="x", by=owner, now=NOW)
    holds.mark_gone(used, how=GoneHow.USED, by=owner, now=NOW)
    commission = make_commission()
    assert found(commission) == []
    assert {miss.slab: words(miss) for miss in missed(commission)} == {
        held: "Held until 3 May.",
        allotted: "Allotted to another piece.",
    }


def test_its_own_promised_wood_is_neither_candidate_nor_near_miss(owner: Person) -> None:
    slab, commission = make_checked(7.0), make_commission()
    promises.hold(commission, [slab], until=TODAY, by=owner, now=NOW)
    assert found(commission) == []
    assert missed(commission) == []


def test_near_misses_say_what_is_missing() -> None:
    short = make_checked(7.0, length_mm=1750)
    narrow = make_checked(7.0, widths=level(568))
    thin = make_checked(7.0, thickness_mm=44)
    assert {miss.slab: words(miss) for miss in missed(make_commission())} == {
        short: "Too short by 50 mm.",
        narrow: "Too narrow by 32 mm.",
        thin: "Too thin by 2 mm.",
    }


def test_what_is_said_to_be_missing_is_just_what_is_missing() -> None:
    """The same slab fits a top smaller by what was said, and not one a millimetre larger."""
    waist = [(0.0, 700.0), (0.5, 540.0), (1.0, 700.0)]
    slab = make_checked(7.0, widths=waist)
    for shape, lost_mm in ((TopShape.RECTANGLE, 60), (TopShape.OVAL, None)):
        commission = make_commission(top_shape=shape)
        (miss,) = missed(commission)
        lost = miss.bars[0].share * 600
        if lost_mm is not None:
            assert lost == pytest.approx(lost_mm)
        # A curved top is reckoned by its columns, to a few millimetres.
        near = 1.0 if lost_mm is not None else 8.0
        fits = make_commission(top_shape=shape, top_width_mm=600 - lost - near)
        assert found(fits) == [(slab,)]
        assert found(make_commission(top_shape=shape, top_width_mm=600 - lost + near)) == []


def test_wet_wood_is_ruled_out_only_when_no_time_is_left() -> None:
    wet = make_checked(14.2)
    soon = make_commission(start_on=TODAY + timedelta(days=13))
    assert found(soon) == []
    assert words(missed(soon)[0]) == "Moisture 14.2 %, needs 8 at most."
    later = make_commission(start_on=TODAY + timedelta(days=14))
    (candidate,) = rank(later).found
    assert candidate.slabs == (wet,)
    assert not candidate.is_ready
    reasons = said(candidate)
    assert reasons["moisture"].startswith("Not ready today. Mean is 14.2 %: wetter than the 6–8 %")
    assert reasons["start"] == (
        "Work starts in 14 days, on 24 April; when it will be dry is not known."
    )


def test_a_doubtful_reading_rules_nothing_out_by_a_little() -> None:
    from inventory import derive
    from tests.catalogue.wood import check

    slab = make_slab()
    check(slab, TODAY, 9.0, is_trusted=False)
    derive.write(slab, TODAY, "moisture")
    assert found(make_commission(start_on=TODAY + timedelta(days=3))) == [(slab,)]


def test_ready_wood_comes_first_then_the_nearest_to_the_target_then_money() -> None:
    never = make_slab(asking_price=Decimal(10))
    wetter, wet = make_checked(15.0), make_checked(10.0)
    dear = make_checked(7.0, asking_price=Decimal(2000))
    unpriced = make_checked(7.0, asking_price=None)
    cheap = make_checked(7.0, asking_price=Decimal(500))
    order = [slabs[0] for slabs in found(make_commission(budget=Decimal(1000)))]
    assert order == [cheap, unpriced, dear, wet, wetter, never]


def test_of_equals_the_one_that_leaves_least_comes_first() -> None:
    large, small = make_checked(7.0, length_mm=3000), make_checked(7.0, length_mm=2000)
    assert found(make_commission()) == [(small,), (large,)]


def test_only_the_species_wished_are_looked_through() -> None:
    wished, other = make_checked(7.0), make_checked(7.0)
    commission = make_commission()
    commission.species.add(wished.species, make_species())
    assert found(commission) == [(wished,)]
    assert rank(commission).counted.free == 1
    assert other.species not in commission.species.all()


def test_the_target_is_the_range_given_else_the_home_else_the_use() -> None:
    home = {"home_temp_c": 21.0, "home_rh_pct": 50.0}
    emc = humidity.emc_pct(21.0, 50.0)
    assert matching.target_of(make_commission()).range_words == "6–8 %"
    at_home = matching.target_of(make_commission(**home))
    assert [at_home.low_pct, at_home.high_pct] == pytest.approx([emc - 1, emc + 1])
    given = make_commission(**home, target_low_pct=9.0, target_high_pct=11.0)
    assert matching.target_of(given).range_words == "9–11 %"


def test_a_slab_ready_for_one_home_is_not_for_a_damper_one() -> None:
    make_checked(7.0)
    damp = make_commission(home_temp_c=18.0, home_rh_pct=65.0)
    (candidate,) = rank(damp).found
    assert not candidate.is_ready
    assert "drier than" in said(candidate)["moisture"]


def test_a_bookmatch_takes_neighbours_of_one_thickness_from_one_log() -> None:
    first, second, third, fourth = make_boule(4)
    Slab.objects.filter(pk=third.pk).update(thickness_mm=57.5)
    commission = make_commission(how_made=HowMade.BOOKMATCHED, top_width_mm=1000)
    assert found(commission) == [(first, second)]
    (candidate,) = rank(commission).found
    assert said(candidate)["log"] == f"Slabs 1 and 2 of log {first.log}."
    assert said(candidate)["fit"] == "Each half fits, with 97 mm of width to spare."
    assert {miss.slab for miss in missed(commission)} == {third, fourth}
    assert "no free neighbour" in words(missed(commission)[0]).lower()


def test_slabs_that_are_no_neighbours_make_no_bookmatch() -> None:
    first, _, third = make_boule(3)
    Slab.objects.exclude(pk__in=[first.pk, third.pk]).update(standing="held")
    assert found(make_commission(how_made=HowMade.BOOKMATCHED, top_width_mm=1000)) == []


def test_a_resin_pair_is_of_one_species_with_the_gap_said() -> None:
    species = make_species()
    one = make_checked(7.0, species=species, widths=level(400))
    other = make_checked(7.0, species=species, widths=level(420))
    make_checked(7.0, widths=level(420))
    commission = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=1000, use="resin")
    (candidate,) = rank(commission).found
    assert set(candidate.slabs) == {one, other}
    reasons = said(candidate)
    assert (
        reasons["fit"]
        == "The resin is 180 mm to 180 mm wide, 180 mm on average; 300 mm is allowed."
    )
    # 1.8 m × 0.18 m × 40 mm = 12.96 l.
    assert reasons["resin"] == "About 13.0 l of resin: 0.32 m² at the finished thickness."
    assert reasons["moisture"] == "Both are ready for resin work."
    assert reasons["log"].startswith("From different logs")


def test_a_pair_from_one_log_comes_before_an_equal_one_from_two() -> None:
    boule = make_boule(2, width_mm=450)
    make_checked(7.0, species=boule[0].species, widths=level(450))
    commission = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=1000)
    pairs = found(commission)
    assert len(pairs) == 3
    assert set(pairs[0]) == set(boule)


def test_free_neighbours_of_the_log_are_named() -> None:
    first, second, _third = make_boule(3)
    reasons = [said(c)["log"] for c in rank(make_commission()).found if c.slabs == (first,)]
    assert reasons == [f"Slab 2 ({second}) of log {first.log} is free beside it."]


def test_how_many_were_looked_at_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(4):
        make_checked(7.0)
    make_checked(7.0, length_mm=900)
    assert rank(make_commission()).counted.in_words == (
        "Of 5 free slabs, 4 could be large enough by length, width and thickness; "
        "all of them were looked at."
    )
    monkeypatch.setitem(options.LOOKED_AT_MOST, HowMade.ONE_SLAB, 3)
    assert "the 3 most promising were looked at" in rank(make_commission()).counted.in_words


def test_when_not_all_are_looked_at_the_wide_and_ready_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(options.LOOKED_AT_MOST, HowMade.ONE_SLAB, 1)
    waisted = [(0.0, 610.0), (0.5, 560.0), (1.0, 640.0)]
    make_checked(7.0, widths=waisted)
    make_checked(12.0, widths=level(700))
    ready = make_checked(7.0, widths=level(700))
    assert found(make_commission()) == [(ready,)]


@pytest.mark.parametrize("how_made", list(HowMade))
def test_the_number_of_queries_does_not_grow_with_the_yard(
    how_made: HowMade, owner: Person
) -> None:
    commission = make_commission(how_made=how_made, top_width_mm=560)

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            ranking = rank(commission)
            near_misses.near_misses(commission, ranking, TODAY, METRIC)
        return len(queries)

    def grow(times: int) -> None:
        for _ in range(times):
            boule = make_boule(3)
            holds.place_hold(boule[0], label="x", until=TODAY, by=owner, now=NOW)

    grow(1)
    few = count()
    grow(8)
    assert count() == few <= 14


def test_nothing_is_found_in_an_empty_yard() -> None:
    ranking = rank(make_commission())
    assert (ranking.found, ranking.counted.free) == ((), 0)
    assert missed(make_commission()) == []


def test_a_slab_that_would_pair_is_no_near_miss_though_it_is_in_no_pair_shown() -> None:
    """Each slab is in a few pairs at most: one left over has partners all the same."""
    species = make_species()
    wide = [make_checked(7.0, widths=level(450), species=species) for _ in range(7)]
    narrow = make_checked(7.0, widths=level(250), species=species)
    commission = make_commission(how_made=HowMade.RESIN_PAIR, top_width_mm=1000, use="resin")
    commission.species.add(species)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options, "PAIRS_A_SPECIES", 2)
        ranking = rank(commission)
        misses = near_misses.near_misses(commission, ranking, TODAY, METRIC)
    shown = {slab for one in ranking.found for slab in one.slabs}
    assert len(shown) < 7
    # 450 + 250 leave 300, just what is allowed; the others leave 100.
    assert not {miss.slab for miss in misses} & {*wide, narrow}
    # Where 500 mm would be bare, none of its kind goes with it.
    alone = make_checked(7.0, widths=level(220), species=make_species())
    make_checked(7.0, widths=level(280), species=alone.species)
    commission.species.add(alone.species)
    why = {miss.slab: words(miss) for miss in missed(commission)}
    assert why[alone] == "No other free slab of its species goes with it."


def test_resin_beside_a_slab_is_said_as_wide_as_it_would_be() -> None:
    slab = make_checked(7.0, widths=level(600))
    commission = make_commission(how_made=HowMade.RESIN_SIDES, top_width_mm=1000, use="resin")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options, "LOOKED_AT_MOST", options.LOOKED_AT_MOST | {"resin_sides": 0})
        (miss,) = missed(commission)
    assert miss.slab == slab
    # 1000 − 600; three tenths of the width are allowed.
    assert words(miss) == "The resin beside it would be 400 mm wide, 300 mm is allowed."


def test_layouts_are_remembered_and_a_slab_measured_anew_is_laid_anew() -> None:
    commission = make_commission(top_width_mm=600)
    slab = make_checked(7.0, widths=level(700), length_mm=2000)
    first = options.layout_of(commission, [slab])
    assert first is not None
    assert options.layout_of(commission, [slab]) is first
    slab.widths = [[0.0, 640.0], [1.0, 640.0]]
    slab.save()
    derive.write(slab, TODAY, "shape")
    again = options.layout_of(commission, [slab])
    assert again is not None
    assert again.margin_mm == pytest.approx(20.0, abs=0.1)
    commission.margin_mm = 15.0
    narrower = options.layout_of(commission, [slab])
    assert narrower is not None
    assert narrower.margin_mm == pytest.approx(5.0, abs=0.1)


def test_what_exact_geometry_refuses_is_a_near_miss_and_is_not_counted() -> None:
    """A board three tenths of a millimetre too narrow on either side passes a look by figures."""
    commission = make_commission(top_width_mm=600)
    slab = make_checked(7.0, widths=level(599.4), length_mm=2000)
    ranking = rank(commission)
    assert ranking.counted.large_enough == 1
    assert (ranking.found, ranking.fitting) == ((), 0)
    (miss,) = missed(commission)
    assert miss.slab == slab
    assert words(miss) == "Misses by a hair where it would fit best."


def test_what_a_heavy_top_weighs_is_said_once_with_its_caution() -> None:
    commission = make_commission(top_width_mm=900, finished_thickness_mm=40)
    make_checked(7.0, widths=level(1000), length_mm=2000)
    (candidate,) = rank(commission).found
    mass = said(candidate)["mass"]
    assert mass.startswith("The finished top weighs about ")
    assert mass.endswith(": lift it with two people.")
    assert mass.lower().count("about") == 1
