"""What a weighing does to the verdict: it tells the mean, and a meter check lends it the rest."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.models import Condition, Person
from inventory.readiness import INTERIOR, CheckFacts, Outcome, Verdict, judge, verdict_of
from inventory.weighing import WeighingEntry, record_weighing
from tests.factories import make_slab
from tests.inventory.check_helpers import NOW, TODAY, record
from tests.inventory.readiness_facts import DAY, check, facts


def weighed(days_ago: int, mean_pct: float = 7.4) -> CheckFacts:
    return check(
        days_ago,
        mean_pct=mean_pct,
        max_pct=mean_pct,
        shell_pct=None,
        core_pct=None,
        spread_pct=None,
        places=1,
        is_weighed=True,
    )


def verdict(*checks: CheckFacts) -> Verdict:
    return judge(facts(*checks), INTERIOR, DAY)


def test_a_weighing_after_a_meter_check_leaves_a_ready_slab_ready() -> None:
    found = verdict(weighed(1), check(2), check(20))
    assert found.is_ready
    assert found.reason("target").sentence == "Mean is 7.4 %, within the 6–8 % wanted."
    assert found.reason("readings").sentence == "Read at 3 places, the core among them: it takes 3."


def test_it_lends_its_core_and_places_for_thirty_days_only() -> None:
    lent = verdict(weighed(1), check(20), check(36))
    assert lent.is_ready
    assert lent.until == DAY + timedelta(days=10)
    late = judge(facts(weighed(1), check(20), check(36)), INTERIOR, DAY + timedelta(days=11))
    assert late.reason("readings").outcome is Outcome.NOT_MET
    assert late.condition is Condition.RESTING


def test_a_weighing_alone_tells_that_it_is_dry_enough_and_no_more() -> None:
    found = verdict(weighed(1), weighed(20))
    assert found.condition is Condition.RESTING
    assert not found.is_ready
    assert found.reason("readings").sentence.startswith("Weighed whole, which tells the mean")
    assert found.reason("gradient").outcome is Outcome.NOT_KNOWN
    assert found.reason("spread").outcome is Outcome.NOT_KNOWN
    assert found.reason("steady").outcome is Outcome.MET


@pytest.mark.parametrize(
    ("mean_pct", "condition"),
    [(40.0, Condition.GREEN), (12.0, Condition.DRYING), (5.0, Condition.TOO_DRY)],
)
def test_a_weighing_overrides_what_the_meter_said_before(
    mean_pct: float, condition: Condition
) -> None:
    assert verdict(weighed(1, mean_pct), check(2), check(20)).condition is condition


def test_a_wild_reading_still_stands_in_the_way() -> None:
    found = verdict(weighed(1), check(2, max_pct=10.6), check(20))
    assert found.reason("target").outcome is Outcome.NOT_MET


def test_readings_that_are_not_trusted_lend_nothing() -> None:
    found = verdict(weighed(1), check(2, is_trusted=False), check(20))
    assert found.reason("gradient").outcome is Outcome.NOT_KNOWN
    assert not found.is_ready


def test_steadiness_compares_like_with_like() -> None:
    """The scale says 7.9 where the meter says 7.2: a difference of method, not a movement."""
    by_scale = [weighed(days, 7.9) for days in (1, 21)]
    mixed = verdict(by_scale[0], check(2), check(20), by_scale[1])
    assert mixed.reason("steady").sentence.startswith("Steady: it changed by 0.0 in 20 days")
    only_one = verdict(by_scale[0], check(2), check(20))
    assert only_one.reason("steady").outcome is Outcome.MET
    by_meter = verdict(check(1), weighed(20, 7.9), check(21))
    assert by_meter.reason("steady").outcome is Outcome.MET
    moved = verdict(weighed(1, 7.9), weighed(21, 7.0), check(22), check(40))
    assert moved.reason("steady").outcome is Outcome.NOT_MET


def test_a_metered_check_after_a_weighing_stands_on_its_own() -> None:
    assert verdict(check(1), weighed(2, 12.0), check(20)).is_ready
    assert verdict(replace(check(1), core_pct=None), check(20)).is_ready is False


def test_from_the_record_the_weighing_is_the_slabs_latest(worker: Person) -> None:
    slab = make_slab()
    record(slab, worker)
    entry = WeighingEntry(41.0, "earlier", earlier_kg=44.0, earlier_mc_pct=15.0)
    weighing = record_weighing(slab, entry, by=worker, on=TODAY, now=NOW + timedelta(hours=1))
    slab.refresh_from_db()
    assert slab.latest_check == weighing
    assert slab.mc_pct == pytest.approx(7.16, abs=0.01)
    found = verdict_of(slab, TODAY)
    assert found.reason("readings").outcome is Outcome.MET
    assert found.reason("gradient").outcome is Outcome.MET
