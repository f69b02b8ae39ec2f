"""Conditions, targets, and how long a verdict stays true without a new fact."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.models import Condition
from inventory.readiness import (
    INTERIOR,
    CheckFacts,
    Facts,
    StageFacts,
    Use,
    judge,
    target_for,
    target_for_home,
)
from inventory.readiness import _row_of as row_of
from inventory.wood.humidity import OutOfRange
from tests.inventory.readiness_facts import DAY, check, days_before, facts, stage

ONE_DAY = timedelta(days=1)


def condition(found: Facts, on: date = DAY) -> Condition:
    return judge(found, INTERIOR, on).condition


@pytest.mark.parametrize(
    ("mean_pct", "expected"),
    [
        (60.0, Condition.GREEN),
        (30.1, Condition.GREEN),
        (30.0, Condition.DRYING),
        (8.1, Condition.DRYING),
        (7.2, Condition.READY),
        (5.0, Condition.TOO_DRY),
    ],
)
def test_condition_follows_the_mean(mean_pct: float, expected: Condition) -> None:
    now, before = (check(n, mean_pct=mean_pct, max_pct=mean_pct + 0.5) for n in (2, 20))
    assert condition(facts(now, before)) == expected


def test_dry_enough_but_not_rested_or_steady_is_resting() -> None:
    assert condition(facts(stages=(stage(begun=5),))) == Condition.RESTING
    assert condition(facts(check(2))) == Condition.RESTING


def test_unchecked_is_unknown() -> None:
    assert condition(Facts((), (), 54.0)) == Condition.UNKNOWN


def test_a_check_of_dry_wood_is_too_old_after_30_days_and_of_wet_wood_after_90() -> None:
    dry = facts(check(0), check(20))
    assert condition(dry, DAY + timedelta(days=30)) == Condition.READY
    assert condition(dry, DAY + timedelta(days=31)) == Condition.UNKNOWN
    wet = facts(check(0, mean_pct=24.0, max_pct=25.0), stages=(stage("air", 90, shop_air=False),))
    assert condition(wet, DAY + timedelta(days=90)) == Condition.DRYING
    assert condition(wet, DAY + timedelta(days=91)) == Condition.UNKNOWN


def test_a_check_of_wet_wood_in_the_kiln_is_too_old_after_30_days() -> None:
    kiln = facts(check(0, mean_pct=24.0, max_pct=25.0), stages=(stage("kiln", 5, shop_air=False),))
    assert condition(kiln, DAY + timedelta(days=30)) == Condition.DRYING
    assert condition(kiln, DAY + timedelta(days=31)) == Condition.UNKNOWN


def test_shell_readings_alone_do_not_call_a_thick_slab_dry() -> None:
    shell_only = check(2, core_pct=None)
    assert condition(facts(shell_only, check(20))) == Condition.UNKNOWN
    wet = check(2, core_pct=None, mean_pct=15.0, max_pct=15.5)
    assert condition(facts(wet)) == Condition.DRYING


def test_untrusted_readings_call_wood_wet_but_never_dry() -> None:
    assert condition(facts(check(is_trusted=False), check(20))) == Condition.UNKNOWN
    above = check(is_trusted=False, mean_pct=45.0, max_pct=50.0)
    assert condition(facts(above)) == Condition.GREEN


def test_one_wet_reading_keeps_a_slab_drying() -> None:
    assert condition(facts(check(2, max_pct=11.0), check(20))) == Condition.DRYING


def test_a_ready_slab_is_so_until_its_check_is_30_days_old() -> None:
    assert judge(facts(), INTERIOR, DAY).until == days_before(2) + timedelta(days=30)


def test_a_resting_slab_is_so_until_the_day_before_its_rest_is_done() -> None:
    found = facts(stages=(stage(begun=5),))
    last = days_before(5) + timedelta(days=13)
    assert judge(found, INTERIOR, DAY).until == last
    assert condition(found, last + ONE_DAY) == Condition.READY


def test_ready_since_is_the_day_rest_ended_or_the_check_that_showed_it() -> None:
    rested_last = facts(check(2), check(12), check(27), stages=(stage(begun=20),))
    assert row_of(rested_last, DAY)["ready_since"] == days_before(6)
    checked_last = facts(check(2), check(20), stages=(stage(begun=90),))
    assert row_of(checked_last, DAY)["ready_since"] == days_before(2)


def test_ready_since_is_kept_by_a_new_check_and_begun_anew_after_a_gap() -> None:
    kept = facts(check(1), check(20), check(40), check(60), stages=(stage(begun=200),))
    assert row_of(kept, DAY)["ready_since"] == days_before(40)
    gap = facts(check(1), check(50), check(70), stages=(stage(begun=200),))
    assert row_of(gap, DAY)["ready_since"] == days_before(1)


@pytest.mark.parametrize(
    ("found", "days"),
    [
        (facts(), 30),
        (facts(check(2)), 14),
        (facts(check(2, is_trusted=False)), 7),
        (facts(check(2, mean_pct=20.0, max_pct=21.0), stages=(stage("kiln", 9),)), 7),
        (facts(check(2, mean_pct=20.0, max_pct=21.0), thickness_mm=25.4), 21),
        (facts(check(2, mean_pct=20.0, max_pct=21.0), thickness_mm=100.0), 60),
    ],
)
def test_the_next_check_is_spaced_by_what_it_would_settle(found: Facts, days: int) -> None:
    assert row_of(found, DAY)["check_due_on"] == days_before(2) + timedelta(days=days)


def test_a_quickly_drying_slab_is_checked_half_way_to_its_target() -> None:
    """6 points in 30 days leave 10 for 50 days: 25 days is half of it."""
    found = facts(
        check(2, mean_pct=18.0, max_pct=18.5), check(32, mean_pct=24.0), thickness_mm=80.0
    )
    assert row_of(found, DAY)["check_due_on"] == days_before(2) + timedelta(days=25)


def test_targets_of_uses() -> None:
    """6–8 %: Wood Handbook ch. 13. Outdoor 9–14: its exterior trim (from memory)."""
    assert (INTERIOR.low_pct, INTERIOR.high_pct) == (6.0, 8.0)
    assert target_for("outdoor").range_words == "9–14 %"
    assert target_for(Use.RESIN).high_pct <= 12


def test_the_target_of_a_home_is_its_emc_and_one_either_side() -> None:
    """70 °F and 40 % RH hold wood at 7.7 % (Wood Handbook, Table 4-2)."""
    target = target_for_home((70 - 32) / 1.8, 40.0)
    assert target.low_pct == pytest.approx(6.7, abs=0.06)
    assert target.high_pct == pytest.approx(8.7, abs=0.06)


def test_resin_is_never_wetter_than_twelve_even_in_a_damp_home() -> None:
    assert target_for_home(20.0, 80.0, Use.RESIN).high_pct == 12.0
    assert target_for_home(20.0, 80.0).high_pct > 15.0


def test_air_that_cannot_be_has_no_target() -> None:
    with pytest.raises(OutOfRange):
        target_for_home(20.0, 140.0)


def checks_in_time() -> st.SearchStrategy[CheckFacts]:
    """Checks mostly of dry, sound slabs, so that every condition is reached."""
    return st.builds(
        lambda ago, mean, extra, core, spread, trusted: check(
            ago,
            mean_pct=mean,
            max_pct=mean + extra,
            shell_pct=mean,
            core_pct=None if core is None else mean + core,
            spread_pct=spread,
            is_trusted=trusted,
        ),
        st.integers(0, 70),
        st.sampled_from([7.0, 7.0, 7.2, 7.4, 5.0, 9.0, 14.0, 40.0]),
        st.sampled_from([0.5, 0.5, 4.0]),
        st.sampled_from([0.5, 0.5, 3.0, None]),
        st.sampled_from([0.5, 0.5, 3.0, None]),
        st.sampled_from([True, True, True, False]),
    )


def stages_in_time() -> st.SearchStrategy[tuple[StageFacts, ...]]:
    def laid(kinds: list[str], days: list[int]) -> tuple[StageFacts, ...]:
        begun, found = sum(days), []
        for kind, length in zip(kinds, days, strict=False):
            found.append(stage(kind, begun, begun - length, shop_air=kind == "shop"))
            begun -= length
        if found:
            last = found.pop()
            found.append(StageFacts(last.kind, last.started_on, None, last.is_shop_air))
        return tuple(found)

    kinds = st.lists(st.sampled_from(["shop", "shop", "air", "kiln"]), max_size=3)
    lengths = st.lists(st.integers(0, 20), min_size=3, max_size=3)
    return st.builds(laid, kinds, lengths)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(checks_in_time(), min_size=1, max_size=4),
    stages_in_time(),
    st.sampled_from([25.0, 54.0]),
)
def test_the_stored_row_stays_true_until_its_last_day_and_no_longer(
    checks: list[CheckFacts], stages: tuple[StageFacts, ...], thickness_mm: float
) -> None:
    ordered = sorted(checks, key=lambda found: found.on, reverse=True)
    found = Facts(tuple(ordered), stages, thickness_mm)
    row = row_of(found, DAY)
    last = row["condition_until"] or DAY + timedelta(days=200)
    day = DAY
    while day <= last:
        assert row_of(found, day) == row
        day += ONE_DAY
    if row["condition_until"]:
        assert row_of(found, day)["condition"] != row["condition"]
