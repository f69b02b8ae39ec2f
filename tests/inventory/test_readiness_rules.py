"""Each rule of readiness: met, not met, not known, and the edges of its numbers.

The rules and their numbers are the shop's (design/rules.md). From outside: 6–8 % for interior
furniture, Wood Handbook (FPL-GTR-190, 2010) chapter 13; gradient of 2, AH-188 (Dry Kiln Operator's
Manual, 1991), from memory; 300 mm from the end and 14 days of rest, common practice.
"""

from typing import Any

import pytest

from inventory.readiness import INTERIOR, Facts, Outcome, Reason, judge
from tests.inventory.readiness_facts import DAY, check, facts, stage


def reason(found: Facts, rule: str) -> Reason:
    return judge(found, INTERIOR, DAY).reason(rule)


def outcome(found: Facts, rule: str) -> str:
    return reason(found, rule).outcome.value


def test_a_slab_that_meets_every_rule_is_ready() -> None:
    verdict = judge(facts(), INTERIOR, DAY)
    assert [found.outcome for found in verdict.reasons] == [Outcome.MET] * 7
    assert verdict.is_ready
    assert verdict.in_words == "Ready for interior furniture."


def test_nothing_is_known_of_a_slab_never_checked() -> None:
    verdict = judge(Facts((), (), 54.0), INTERIOR, DAY)
    assert {found.outcome for found in verdict.reasons} == {Outcome.NOT_KNOWN}


@pytest.mark.parametrize(
    ("days_ago", "expected"), [(0, "met"), (30, "met"), (31, "not_met"), (400, "not_met")]
)
def test_a_check_counts_for_thirty_days(days_ago: int, expected: str) -> None:
    assert outcome(facts(check(days_ago)), "checked") == expected


def test_an_old_check_is_said_with_its_age_and_day() -> None:
    sentence = reason(facts(check(45)), "checked").sentence
    assert sentence == "Last checked 45 days ago, on 5 April: it may be 30 days at most."


@pytest.mark.parametrize(("places", "expected"), [(1, "not_met"), (2, "not_met"), (3, "met")])
def test_three_places_are_enough(places: int, expected: str) -> None:
    assert outcome(facts(check(places=places)), "readings") == expected


@pytest.mark.parametrize(
    ("thickness_mm", "expected"), [(25.0, "met"), (32.0, "met"), (32.1, "not_met")]
)
def test_a_core_reading_is_asked_for_above_32_mm(thickness_mm: float, expected: str) -> None:
    found = facts(check(core_pct=None), thickness_mm=thickness_mm)
    assert outcome(found, "readings") == expected


def test_readings_are_not_known_without_a_check() -> None:
    assert reason(Facts((), (), 54.0), "readings").sentence == (
        "No readings yet: read 3 places, and its core."
    )


@pytest.mark.parametrize(
    ("mean_pct", "expected"),
    [(5.99, "not_met"), (6.0, "met"), (8.0, "met"), (8.01, "not_met"), (25.0, "not_met")],
)
def test_the_mean_lies_within_the_target(mean_pct: float, expected: str) -> None:
    assert outcome(facts(check(mean_pct=mean_pct, max_pct=mean_pct)), "target") == expected


@pytest.mark.parametrize(("max_pct", "expected"), [(10.0, "met"), (10.1, "not_met")])
def test_no_reading_is_more_than_two_above_the_target(max_pct: float, expected: str) -> None:
    assert outcome(facts(check(max_pct=max_pct)), "target") == expected


@pytest.mark.parametrize(
    ("mean_pct", "expected"), [(7.2, "not_known"), (13.0, "not_known"), (13.1, "not_met")]
)
def test_untrusted_readings_can_only_show_that_wood_is_wet(mean_pct: float, expected: str) -> None:
    found = facts(check(mean_pct=mean_pct, max_pct=mean_pct, is_trusted=False))
    assert outcome(found, "target") == expected


@pytest.mark.parametrize(
    ("shell_pct", "core_pct", "expected"),
    [(7.0, 9.0, "met"), (7.3, 9.3, "met"), (7.0, 9.1, "not_met"), (9.1, 7.0, "not_met")],
)
def test_core_and_shell_differ_by_two_at_most(
    shell_pct: float, core_pct: float, expected: str
) -> None:
    found = facts(check(shell_pct=shell_pct, core_pct=core_pct))
    assert outcome(found, "gradient") == expected


def test_a_gradient_is_said_with_its_numbers() -> None:
    sentence = reason(facts(check(shell_pct=7.0, core_pct=9.1)), "gradient").sentence
    assert sentence == "Core is 2.1 above the shell: it may be 2 at most."


@pytest.mark.parametrize("missing", ["shell_pct", "core_pct"])
def test_the_gradient_of_a_thick_slab_is_not_known_without_both(missing: str) -> None:
    unread: dict[str, Any] = {missing: None}
    assert outcome(facts(check(**unread)), "gradient") == "not_known"


def test_a_thin_slab_needs_no_core_reading_for_its_gradient() -> None:
    assert outcome(facts(check(core_pct=None), thickness_mm=25.0), "gradient") == "met"


@pytest.mark.parametrize(
    ("spread_pct", "expected"), [(2.0, "met"), (2.1, "not_met"), (None, "not_known")]
)
def test_readings_along_the_length_differ_by_two_at_most(
    spread_pct: float | None, expected: str
) -> None:
    assert outcome(facts(check(spread_pct=spread_pct)), "spread") == expected


@pytest.mark.parametrize("rule", ["gradient", "spread", "steady", "target"])
def test_what_untrusted_readings_seem_to_meet_is_not_known(rule: str) -> None:
    found = facts(check(is_trusted=False), check(20))
    assert outcome(found, rule) == "not_known"
    assert not judge(found, INTERIOR, DAY).is_ready


@pytest.mark.parametrize("rule", ["gradient", "spread"])
def test_uneven_wood_is_uneven_on_untrusted_readings_too(rule: str) -> None:
    found = facts(check(is_trusted=False, core_pct=11.0, spread_pct=4.0), check(20))
    assert outcome(found, rule) == "not_met"


@pytest.mark.parametrize(
    ("days_apart", "earlier_pct", "expected"),
    [
        (14, 7.7, "met"),
        (14, 7.71, "not_met"),
        (13, 7.2, "not_known"),
        (60, 6.7, "met"),
        (60, 8.2, "not_met"),
    ],
)
def test_two_checks_fourteen_days_apart_differ_by_half_a_point(
    days_apart: int, earlier_pct: float, expected: str
) -> None:
    found = facts(check(2), check(2 + days_apart, mean_pct=earlier_pct))
    assert outcome(found, "steady") == expected


@pytest.mark.parametrize(("earlier_pct", "expected"), [(8.1, "met"), (8.3, "not_met")])
def test_a_drift_under_a_quarter_a_week_over_28_days_is_steady(
    earlier_pct: float, expected: str
) -> None:
    """0.9 in four weeks is 0.225 a week; 1.1 is 0.275."""
    found = facts(check(0), check(28, mean_pct=earlier_pct))
    assert outcome(found, "steady") == expected


def test_one_check_does_not_show_that_a_slab_is_steady() -> None:
    found = reason(facts(check(2)), "steady")
    assert found.outcome is Outcome.NOT_KNOWN
    assert "no trusted check 14 days or more before the last" in found.sentence


def test_an_untrusted_earlier_check_does_not_show_that_a_slab_is_steady() -> None:
    assert outcome(facts(check(2), check(20, is_trusted=False)), "steady") == "not_known"


@pytest.mark.parametrize(("days", "expected"), [(13, "not_met"), (14, "met"), (200, "met")])
def test_a_slab_rests_fourteen_days_in_shop_air_after_the_kiln(days: int, expected: str) -> None:
    kiln = stage("kiln", 300, days, shop_air=False)
    assert outcome(facts(stages=(kiln, stage(begun=days))), "rested") == expected


def test_rest_counts_from_conditioning_room_to_shop_without_a_break() -> None:
    stages = (stage("conditioning", 16, 6), stage("shop", 6))
    assert outcome(facts(stages=stages), "rested") == "met"


def test_days_outdoors_break_the_rest() -> None:
    stages = (stage("shop", 90, 8), stage("air", 8, 5, shop_air=False), stage("shop", 5))
    assert outcome(facts(stages=stages), "rested") == "not_met"


@pytest.mark.parametrize("kind", ["air", "kiln"])
def test_a_slab_outdoors_or_in_the_kiln_has_not_rested(kind: str) -> None:
    assert outcome(facts(stages=(stage(kind, 90, shop_air=False),)), "rested") == "not_met"


def test_rest_is_not_known_without_a_stage_or_after_the_last_ended() -> None:
    assert outcome(facts(stages=()), "rested") == "not_known"
    assert outcome(facts(stages=(stage("shop", 90, 20),)), "rested") == "not_known"


def test_facts_of_a_later_day_are_not_looked_at() -> None:
    later = check(-3, mean_pct=20.0, max_pct=22.0)
    assert judge(facts(later, check(2), check(20)), INTERIOR, DAY).is_ready
