"""What would settle what is not known, and the next thing to do: one sentence each.

The rules are the shop's (design/rules.md). From outside: pins at 0.211 of the thickness (James,
FPL-GTR-6, 1988: one fifth to one quarter), wood wetter than about 20 % not brought into a kiln or
a heated room (common practice).
"""

from datetime import timedelta
from typing import Any

import pytest

from inventory.readiness import INTERIOR, Facts, Outcome, Target, Use, Verdict, judge
from inventory.readiness_advice import Air, Arrival, Surroundings, advised
from tests.inventory.readiness_facts import DAY, check, facts, stage

SHED = Air("Long shed", 12.3, is_shop_air=False)
ROOM = Air("Conditioning room", 7.1, is_shop_air=True)
DAMP_SHOP = Air("Shop", 9.6, is_shop_air=True)
OUTDOORS = (stage("air", 90, shop_air=False),)


def advice(
    found: Facts,
    system: str = "metric",
    around: Surroundings | None = None,
    days: int = 0,
    arrival: Arrival | None = None,
) -> Verdict:
    verdict = judge(found, INTERIOR, DAY + timedelta(days=days))
    return advised(verdict, found, system, around, arrival=arrival)


def next_step(found: Facts, **kwargs: Any) -> str:
    return advice(found, **kwargs).next_step


def settle(found: Facts, rule: str, system: str = "metric") -> str:
    reason = advice(found, system).reason(rule)
    assert reason.outcome is Outcome.NOT_KNOWN
    return reason.settle


def at_mean(mean_pct: float, days_ago: int = 2, **kwargs: Any) -> Any:
    return check(days_ago, mean_pct=mean_pct, max_pct=mean_pct + 0.5, **kwargs)


NOTHING = Facts((), (), 54.0)


def test_every_rule_not_known_says_what_would_settle_it_and_no_other_does() -> None:
    for found in (
        NOTHING,
        facts(),
        facts(check(2, is_trusted=False, core_pct=None)),
        facts(check(2)),
    ):
        for reason in advice(found).reasons:
            assert bool(reason.settle) == (reason.outcome is Outcome.NOT_KNOWN), reason


@pytest.mark.parametrize(
    ("missing", "system", "expected"),
    [
        ({"core_pct": None}, "metric", "Take a core reading in the middle, at 27 mm."),
        ({"core_pct": None}, "imperial", "Take a core reading in the middle, at 1⅛ in."),
        ({"shell_pct": None}, "metric", "Take a shell reading in the middle, at 5 mm."),
        (
            {"core_pct": None, "shell_pct": None},
            "metric",
            "Take a core reading in the middle, at 27 mm, and a shell reading, at 5 mm.",
        ),
    ],
)
def test_a_gradient_not_known_asks_for_the_reading_that_is_missing(
    missing: dict[str, None], system: str, expected: str
) -> None:
    found = facts(check(2, **missing), check(20))
    assert settle(found, "gradient", system).replace("\N{NO-BREAK SPACE}", " ") == expected


def test_an_unread_spread_asks_for_one_depth_at_three_places() -> None:
    found = facts(check(2, spread_pct=None), check(20))
    assert settle(found, "spread") == "Read 3 places along it at one depth, 11\N{NO-BREAK SPACE}mm."


@pytest.mark.parametrize(
    ("figures", "expected"),
    [
        ({}, "set the meter to the species"),
        ({"max_pct": 34.0, "mean_pct": 12.5}, "above 30 % pins tell nothing sure"),
        ({"mean_pct": 5.2}, "below 6 % pins tell nothing sure"),
    ],
)
def test_untrusted_readings_say_how_to_be_trusted(figures: dict[str, float], expected: str) -> None:
    assert expected in settle(facts(check(2, is_trusted=False, **figures)), "target")


def test_steadiness_not_known_names_the_day_of_the_second_check() -> None:
    assert settle(facts(check(2)), "steady") == "Check it again on 1 June or later."
    late = advice(facts(check(14)))
    assert late.reason("steady").settle == "Check it again now."


def test_rest_not_known_asks_where_it_lies() -> None:
    assert "by moving it there" in settle(facts(stages=()), "rested")


def test_a_slab_never_checked_is_checked() -> None:
    assert next_step(NOTHING).replace("\N{NO-BREAK SPACE}", " ") == (
        "Check it with a meter: read 3 places along it with the pins at 11 mm, "
        "and the core in the middle at 27 mm."
    )
    thin = next_step(Facts((), (), 25.0))
    assert "core" not in thin


def test_a_ready_slab_may_be_worked_and_says_until_when_it_stays_so() -> None:
    assert next_step(facts()) == "It may be worked; check it again by 17 June to keep it so."


def test_too_old_a_check_comes_before_everything_else() -> None:
    around = Surroundings(SHED, (ROOM,))
    assert next_step(facts(), days=40, around=around).startswith("Check it again: read 3 places")


def test_a_missing_core_reading_comes_next() -> None:
    found = facts(check(2, core_pct=None), check(20))
    assert next_step(found) == "Take a core reading in the middle, at 27\N{NO-BREAK SPACE}mm."
    assert next_step(facts(check(2, places=1))).startswith("Read more of it: read 3 places")


def test_wood_that_rests_is_left_until_its_day() -> None:
    rest = facts(stages=(stage(begun=5),))
    assert next_step(rest) == "Leave it until 29 May: then it has rested."
    unsteady = facts(check(2), check(20, mean_pct=8.6))
    assert next_step(unsteady) == "Leave it until 1 June, then check it again."


def test_rest_and_steadiness_wait_for_the_later_of_the_two() -> None:
    found = facts(check(2), stages=(stage(begun=1),))
    assert next_step(found) == "Leave it until 2 June, then check it again."


def ahead(low: int, median: int) -> Arrival:
    return Arrival(DAY + timedelta(days=low), DAY + timedelta(days=median))


def test_a_forecast_says_until_when_drying_wood_is_left_and_its_next_check_before() -> None:
    """Due when there is one chance in ten that it is there, 60 days after its check at most."""
    found = facts(at_mean(26.0), stages=OUTDOORS)
    assert next_step(found, arrival=ahead(200, 300)) == (
        "Leave it to dry until about 16 March 2027, and check it on the way, by 17 July."
    )
    assert next_step(found, arrival=ahead(20, 30)) == (
        "Leave it to dry until about 19 June, and check it on the way, by 9 June."
    )
    assert next_step(found, arrival=ahead(20, 20)) == (
        "Leave it to dry until about 9 June, then check it again."
    )


def test_a_forecast_without_a_day_to_come_leaves_the_next_check() -> None:
    found = facts(at_mean(26.0), stages=OUTDOORS)
    for arrival in (Arrival(), Arrival(None, DAY)):
        assert next_step(found, arrival=arrival) == (
            "Leave it to dry until 17 July, then check it again."
        )


def test_drying_wood_is_left_until_its_next_check() -> None:
    found = facts(at_mean(26.0), stages=OUTDOORS)
    assert next_step(found) == "Leave it to dry until 17 July, then check it again."
    kiln = Surroundings(Air("Kiln", 6.0, is_shop_air=False, is_kiln=True))
    found = facts(at_mean(26.0), stages=(stage("kiln", 9, shop_air=False),))
    assert next_step(found, around=kiln) == (
        "Leave it in the kiln until 25 May, then check it again."
    )


def test_air_that_will_not_dry_it_sends_it_to_air_that_will() -> None:
    found = facts(at_mean(13.0), stages=OUTDOORS)
    assert next_step(found, around=Surroundings(SHED, (DAMP_SHOP, ROOM))) == (
        "Move it to Conditioning room (about 7.1 %): the air in Long shed keeps wood at about "
        "12.3 %, and will not dry it to 6–8 %."
    )


@pytest.mark.parametrize(("mean_pct", "moves"), [(20.0, True), (20.1, False), (45.0, False)])
def test_wood_above_twenty_per_cent_is_not_sent_into_dry_air(mean_pct: float, moves: bool) -> None:
    found = facts(at_mean(mean_pct), stages=OUTDOORS)
    step = next_step(found, around=Surroundings(SHED, (ROOM,)))
    assert step.startswith("Move it" if moves else "Leave it to dry")


@pytest.mark.parametrize(("emc_pct", "moves"), [(8.0, False), (8.1, True)])
def test_air_at_the_top_of_the_target_dries_and_above_it_does_not(
    emc_pct: float, moves: bool
) -> None:
    here = Air("Shop", emc_pct, is_shop_air=True)
    step = next_step(facts(at_mean(12.0)), around=Surroundings(here, (ROOM,)))
    assert step.startswith("Move it") == moves


def test_without_a_drier_place_it_says_so() -> None:
    found = facts(at_mean(13.0), stages=OUTDOORS)
    assert next_step(found, around=Surroundings(SHED, (DAMP_SHOP,))).startswith(
        "It takes drier air than any place here has on record"
    )
    kiln = Air("Kiln", None, is_shop_air=False, is_kiln=True)
    assert next_step(found, around=Surroundings(SHED, (DAMP_SHOP, kiln))).startswith(
        "Move it to Kiln:"
    )


def test_nothing_is_said_of_air_that_is_not_on_record() -> None:
    unknown = Surroundings(Air("Long shed", None, is_shop_air=False), (ROOM,))
    found = facts(at_mean(13.0), stages=OUTDOORS)
    assert next_step(found, around=unknown).startswith("Leave it to dry")


def test_dry_wood_outdoors_is_brought_in_to_rest() -> None:
    found = facts(stages=OUTDOORS)
    assert next_step(found, around=Surroundings(SHED, (DAMP_SHOP, ROOM))) == (
        "Move it to Conditioning room (about 7.1 %): it rests 14 days there before it is worked."
    )
    assert next_step(found).startswith("Move it into dry shop air: it rests")


def test_resting_wood_in_damp_air_is_moved_before_it_takes_it_up() -> None:
    found = facts(stages=(stage(begun=5),))
    assert next_step(found, around=Surroundings(DAMP_SHOP, (ROOM,))) == (
        "Move it to Conditioning room (about 7.1 %): the air in Shop would take it up to about "
        "9.6 %."
    )


def test_wood_too_dry_goes_where_it_takes_up_moisture() -> None:
    found = facts(at_mean(5.0), at_mean(5.0, 20))
    dry = Air("Kiln", 4.0, is_shop_air=False, is_kiln=True)
    assert next_step(found, around=Surroundings(dry, (ROOM,))) == (
        "Move it to Conditioning room (about 7.1 %), where it takes up moisture again."
    )
    assert next_step(found, around=Surroundings(ROOM, (dry,))).startswith(
        "Leave it to take up moisture until"
    )


def test_a_target_named_for_a_piece_is_named_in_the_verdict() -> None:
    target = Target(8.0, 10.0, Use.INTERIOR, named="“Hall table”")
    assert judge(facts(), target, DAY).in_words == "Drier than “Hall table” wants."
