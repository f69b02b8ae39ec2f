"""Each kind of warning: when it is raised, in which sentence, and the edges of its numbers.

From outside: safe rates of FOR-128 (University of Kentucky), *Hardwood dry kiln operation*, Table
9, after Wengert, *Drying hardwood lumber*, FPL-GTR-118 (2000). The other numbers are the shop's.
"""

import math
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from inventory.alert_rules import (
    Expected,
    Finding,
    PlaceSeen,
    SlabSeen,
    damp_air,
    first_order_expectations,
    forecast_expectations,
    meter_due,
    of_slab,
    off_curve,
    regaining,
    silent,
    stalled,
    too_fast,
)
from inventory.models import AlertKind
from inventory.readiness import INTERIOR, CheckFacts, Facts
from inventory.wood.drying_history import reading_sd_pct
from tests.inventory.readiness_facts import DAY, check, days_before, stage

MM_PER_IN = 25.4
OUTDOORS = (stage("air", 300, shop_air=False),)


def dried(*checks: CheckFacts, **kwargs: Any) -> SlabSeen:
    """A walnut slab, 4/4 unless told otherwise, its checks latest first, outdoors all along."""
    thickness_mm = kwargs.pop("thickness_mm", MM_PER_IN)
    found = Facts(checks, kwargs.pop("stages", OUTDOORS), thickness_mm)
    defaults: dict[str, Any] = {
        "species": "Black walnut",
        "botanical": "Juglans nigra",
        "place": "Long shed",
    }
    return SlabSeen(found, target=INTERIOR, **{**defaults, **kwargs})


def at(days_ago: int, mean_pct: float, **kwargs: Any) -> CheckFacts:
    return check(days_ago, mean_pct=mean_pct, max_pct=mean_pct + 0.5, **kwargs)


def weighed(days_ago: int, mean_pct: float) -> CheckFacts:
    return at(days_ago, mean_pct, is_weighed=True)


# --- drying too fast ------------------------------------------------------------------------

# Table 9, % MC a day: species, 4/4, 8/4.
TABLE_9 = [
    ("Fraxinus americana", 10.4, 4.1),
    ("Fagus grandifolia", 4.5, 1.8),
    ("Betula alleghaniensis", 6.1, 2.4),
    ("Prunus serotina", 5.8, 2.3),
    ("Ulmus americana", 10.4, 4.1),
    ("Acer saccharum", 6.5, 2.6),
    ("Acer rubrum", 13.8, 5.5),
    ("Quercus rubra", 3.8, 1.5),
    ("Quercus alba", 2.5, 1.0),
    ("Liquidambar styraciflua", 5.3, 2.1),
    ("Nyssa sylvatica", 10.9, 4.3),
    ("Juglans nigra", 8.2, 3.3),
    ("Liriodendron tulipifera", 13.8, 5.5),
]


def lost(rate_a_day: float, days: int = 10, **kwargs: Any) -> Finding | None:
    """What is said of a slab weighed twice, having lost that much a day from 200 %."""
    first = 200.0
    pair = weighed(0, first - rate_a_day * days), weighed(days, first)
    return too_fast(dried(*pair, **kwargs), DAY)


@pytest.mark.parametrize(("botanical", "at_4_4", "at_8_4"), TABLE_9)
def test_the_published_rate_is_safe_and_a_little_more_is_not(
    botanical: str, at_4_4: float, at_8_4: float
) -> None:
    """8/4 follows from 4/4 by thickness^-1.33, to the table's own rounding (3 %)."""
    assert lost(at_4_4, botanical=botanical) is None
    assert lost(at_4_4 + 0.05, botanical=botanical) is not None
    two_inches: dict[str, Any] = {"botanical": botanical, "thickness_mm": 2 * MM_PER_IN}
    assert lost(at_8_4 * 0.96, **two_inches) is None
    assert lost(at_8_4 * 1.06, **two_inches) is not None


def test_too_fast_is_said_with_its_numbers() -> None:
    finding = too_fast(dried(weighed(0, 60.0), weighed(2, 80.0)), DAY)
    assert finding is not None
    assert finding.kind == AlertKind.TOO_FAST
    assert finding.sentence == (
        "It lost 20.0 % in 2 days, 10.0 % a day: Black walnut this thick may lose 8.2 % a day "
        "while it is wet, or it cracks. Slow the air or raise its humidity."
    )


def test_a_rate_carried_beyond_the_table_says_so() -> None:
    thick = lost(4.0, thickness_mm=76.2)
    assert thick is not None
    assert "the published rate carried on to this thickness" in thick.sentence


def test_below_twenty_per_cent_the_rate_no_longer_governs() -> None:
    """From 21 to 8 % in a day only 1 point was lost in the governed stage, from 19 % none."""
    assert too_fast(dried(weighed(0, 8.0), weighed(1, 21.0)), DAY) is None
    assert too_fast(dried(weighed(0, 5.0), weighed(1, 19.0)), DAY) is None
    assert too_fast(dried(weighed(0, 8.0), weighed(1, 29.0)), DAY) is not None


def differ_by(one_pct: float, other_pct: float) -> float:
    """Twice the spread of the difference of two meter checks of those moistures."""
    return 2.0 * float(np.hypot(*reading_sd_pct(np.array([one_pct, other_pct]))))


def test_a_loss_within_the_meters_noise_is_no_warning() -> None:
    """As wet as 150 % two checks of a meter may differ by 20 or so; a scale's may not."""
    noise_pct = differ_by(150.0, 130.0)
    assert noise_pct > 12.0
    for lost_pct, is_warned in ((0.9 * noise_pct, False), (1.2 * noise_pct, True)):
        found = too_fast(dried(at(0, 150.0 - lost_pct), at(1, 150.0)), DAY)
        assert (found is not None) == is_warned
    scale = weighed(0, 150.0 - 0.9 * noise_pct), weighed(1, 150.0)
    assert too_fast(dried(*scale), DAY) is not None


def test_doubtful_readings_may_differ_by_more() -> None:
    """A reading not corrected counts for 0.15 of one that is: its spread is 1 / √0.15 as great."""
    lost_pct = 1.5 * differ_by(150.0, 130.0)
    doubtful = (at(0, 150.0 - lost_pct, is_trusted=False), at(1, 150.0, is_trusted=False))
    assert too_fast(dried(*doubtful), DAY) is None
    assert too_fast(dried(at(0, 150.0 - lost_pct), at(1, 150.0)), DAY) is not None


def test_species_without_a_published_rate_are_not_warned_of() -> None:
    assert lost(60.0, botanical="Dalbergia nigra") is None


# --- taking up moisture --------------------------------------------------------------------


@pytest.mark.parametrize(("share_of_noise", "warned"), [(0.98, False), (1.02, True)])
def test_a_rise_beyond_the_meters_noise_is_regaining(share_of_noise: float, warned: bool) -> None:
    """Under 15 % a meter's noise is the same at any moisture."""
    pair = at(0, 12.0 + share_of_noise * differ_by(12.0, 12.0)), at(20, 12.0)
    assert (regaining(dried(*pair), DAY) is not None) == warned


def test_regaining_is_said_with_its_numbers() -> None:
    finding = regaining(dried(at(0, 14.1), at(17, 12.0)), DAY)
    assert finding is not None
    assert finding.sentence == (
        "It took up 2.1 % since 3 May, from 12.0 to 14.1 %, while it should be drying: "
        "look at the air and the cover."
    )


def test_wood_that_comes_up_within_its_target_is_not_regaining() -> None:
    assert regaining(dried(at(0, 8.0), at(20, 5.0)), DAY) is None
    assert regaining(dried(at(0, 8.1), at(20, 5.0)), DAY) is not None


def test_a_rise_above_fibre_saturation_or_of_untrusted_readings_says_nothing() -> None:
    assert regaining(dried(at(0, 40.0), at(20, 28.0)), DAY) is None
    assert regaining(dried(at(0, 16.0), at(20, 12.0, is_trusted=False)), DAY) is None


def test_a_scale_and_a_meter_are_not_compared() -> None:
    assert regaining(dried(at(0, 16.0), weighed(20, 12.0)), DAY) is None
    found = regaining(dried(at(0, 16.0), weighed(20, 15.0), at(40, 12.0)), DAY)
    assert found is not None
    assert found.facts["from_pct"] == 12.0


def test_a_mean_with_the_core_in_it_and_one_without_are_not_compared() -> None:
    assert regaining(dried(at(0, 16.0), at(20, 12.0, core_pct=None)), DAY) is None


# --- stalled ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days_apart", "fall_pct", "warned"),
    [
        (42, 0.4, True),
        (42, 0.5, False),
        (41, 0.1, False),
        (90, 0.4, True),
        (42, 0.1 - differ_by(12.0, 12.0), True),
        (42, -0.1 - differ_by(12.0, 12.0), False),
    ],
)
def test_hardly_any_change_in_six_weeks_is_stalled(
    days_apart: int, fall_pct: float, warned: bool
) -> None:
    pair = at(0, 12.0), at(days_apart, 12.0 + fall_pct)
    assert (stalled(dried(*pair)) is not None) == warned


@pytest.mark.parametrize(("mean_pct", "warned"), [(8.5, False), (8.6, True), (31.0, False)])
def test_only_wood_above_its_target_and_below_saturation_stalls(
    mean_pct: float, warned: bool
) -> None:
    pair = at(0, mean_pct), at(60, mean_pct)
    assert (stalled(dried(*pair)) is not None) == warned


def test_a_slab_moved_since_has_not_stalled_there() -> None:
    moved = (stage("air", 300, 30, shop_air=False), stage("conditioning", 30))
    assert stalled(dried(at(0, 12.0), at(60, 12.0), stages=moved)) is None
    assert stalled(dried(at(0, 12.0), at(60, 12.0), stages=())) is None


def test_stalled_names_the_air_where_that_is_why() -> None:
    pair = at(0, 12.4), at(56, 12.5)
    damp = stalled(dried(*pair, emc_pct=12.1))
    assert damp is not None
    assert damp.sentence == (
        "It has stood at about 12.4 % for 8 weeks, above the 6–8 % wanted: "
        "the air in Long shed keeps wood at about 12.1 %; it takes drier air."
    )
    dry = stalled(dried(*pair, emc_pct=7.0))
    assert dry is not None
    assert "look at how it is stacked" in dry.sentence


# --- a check out of line -----------------------------------------------------------------------

FALLING = (at(30, 17.0), at(60, 20.0))


def test_the_expectation_is_the_exponential_through_two_checks() -> None:
    """From 20 to 17 in 30 days toward 12: 8 → 5, so 30 days on 5 × 5/8 = 3.125 are left."""
    (expected,) = first_order_expectations(dried(at(0, 15.0), *FALLING, emc_pct=12.0))
    assert expected.pct == pytest.approx(15.125)
    assert 1.0 < expected.sd_pct < 2.5


@pytest.mark.parametrize(
    ("mean_pct", "warned"), [(12.0, False), (15.0, False), (18.5, False), (24.0, True), (8.0, True)]
)
def test_a_check_far_from_its_curve_is_out_of_line(mean_pct: float, warned: bool) -> None:
    seen = dried(at(0, mean_pct), *FALLING, emc_pct=12.0)
    kinds = {finding.kind for finding in of_slab(seen, DAY)}
    assert (AlertKind.OFF_CURVE in kinds) == warned


@pytest.mark.parametrize(("mean_pct", "warned"), [(11.0, False), (11.1, True), (4.9, True)])
def test_three_standard_deviations_off_is_out_of_line(mean_pct: float, warned: bool) -> None:
    """Of 1.0 about 8.0."""
    seen = dried(at(0, mean_pct))
    finding = off_curve(seen, DAY, [Expected(8.0, 1.0)])
    assert (finding is not None) == warned
    if finding is not None:
        assert f"says {mean_pct} %" in finding.sentence
        assert "about 8.0 %" in finding.sentence


def foreseen(mean_pct: float, expected_pct: float, sd_pct: float, **kwargs: Any) -> SlabSeen:
    """Checks that fall to 15.1 % today by a single exponential, and a forecast that says else."""
    latest = at(0, mean_pct, expected_pct=expected_pct, expected_sd_pct=sd_pct, **kwargs)
    return dried(latest, *FALLING, emc_pct=12.0)


def is_off(seen: SlabSeen) -> bool:
    return AlertKind.OFF_CURVE in {finding.kind for finding in of_slab(seen, DAY)}


def test_the_forecast_before_a_check_says_what_was_expected_of_it() -> None:
    """Its own spread and the readings' together, whatever a single exponential would have said."""
    (expected,) = forecast_expectations(foreseen(15.0, 12.0, 0.8))
    assert expected.pct == 12.0
    assert expected.sd_pct == pytest.approx(math.hypot(0.8, float(reading_sd_pct(np.array(12.0)))))
    edge_pct = 12.0 + 3.0 * expected.sd_pct
    assert not is_off(foreseen(edge_pct - 0.05, 12.0, 0.8))
    assert is_off(foreseen(edge_pct + 0.05, 12.0, 0.8))
    assert not is_off(foreseen(24.0, 23.0, 1.0))
    assert is_off(dried(at(0, 24.0), *FALLING, emc_pct=12.0))


def test_a_wide_forecast_and_a_doubtful_reading_excuse_more() -> None:
    assert is_off(foreseen(16.5, 12.0, 0.8))
    assert not is_off(foreseen(16.5, 12.0, 2.0))
    assert not is_off(foreseen(16.5, 12.0, 0.8, is_trusted=False))


def test_a_check_no_forecast_stood_before_is_expected_by_none() -> None:
    assert forecast_expectations(dried(at(0, 15.0))) == ()
    assert forecast_expectations(dried()) == ()


def test_a_check_that_agrees_with_those_before_a_wrong_one_is_in_line() -> None:
    seen = dried(at(0, 14.0), at(20, 27.0), at(40, 16.0), at(60, 18.0), emc_pct=12.0)
    assert AlertKind.OFF_CURVE not in {finding.kind for finding in of_slab(seen, DAY)}


def test_nothing_is_expected_without_two_checks_air_or_in_another_place() -> None:
    latest = at(0, 15.0)
    assert first_order_expectations(dried(latest, at(30, 17.0), emc_pct=12.0)) == ()
    assert first_order_expectations(dried(latest, *FALLING)) == ()
    moved = (stage("air", 300, 10, shop_air=False), stage("kiln", 10, shop_air=False))
    assert first_order_expectations(dried(latest, *FALLING, emc_pct=6.0, stages=moved)) == ()


# --- places -------------------------------------------------------------------------------------


def place(**kwargs: Any) -> PlaceSeen:
    """Nine ready slabs in 7 % air, written down today and all month."""
    defaults: dict[str, Any] = {
        "emc_pct": 7.0,
        "pieces": 12,
        "ready": 9,
        "last_on": DAY,
        "records": 20,
    }
    return PlaceSeen(**{**defaults, **kwargs})


@pytest.mark.parametrize(
    ("emc_pct", "ready", "warned"),
    [(8.0, 9, False), (8.01, 9, True), (12.0, 0, False), (None, 9, False)],
)
def test_air_above_the_target_warns_where_ready_wood_lies(
    emc_pct: float | None, ready: int, warned: bool
) -> None:
    found = damp_air(place(emc_pct=emc_pct, ready=ready), INTERIOR)
    assert (found is not None) == warned


def test_damp_air_is_said_of_one_slab_and_of_many() -> None:
    one, many = (damp_air(place(emc_pct=9.6, ready=count), INTERIOR) for count in (1, 9))
    assert one is not None
    assert many is not None
    assert "the ready slab lying here would take up moisture past the 8 % wanted" in one.sentence
    assert "about 9.6 %: the 9 ready slabs here" in many.sentence


@pytest.mark.parametrize(
    ("days", "changes", "warned"),
    [
        (7, {}, False),
        (8, {}, True),
        (8, {"records": 4}, True),
        (8, {"records": 3}, False),
        (8, {"pieces": 0}, False),
    ],
)
def test_a_week_without_a_record_is_silence_where_there_were_regular_ones(
    days: int, changes: dict[str, int], warned: bool
) -> None:
    seen = place(last_on=days_before(days), **changes)
    assert (silent(seen, DAY) is not None) == warned


def test_a_place_never_written_down_is_not_silent() -> None:
    assert silent(place(last_on=None, records=0), DAY) is None


# --- meters -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("days_past", "warned"), [(-1, False), (0, False), (1, True)])
def test_a_meter_is_past_its_test_the_day_after_it_was_due(days_past: int, warned: bool) -> None:
    due = DAY - timedelta(days=days_past)
    assert (meter_due(due, None, DAY) is not None) == warned


def test_a_meter_without_a_day_is_past_nothing() -> None:
    assert meter_due(None, date(2020, 1, 1), DAY) is None


def test_every_sentence_fits_its_column() -> None:
    longest = "A species with quite a long common name, as long as eighty letters may come to be!"
    slab = dried(weighed(0, 60.0), weighed(22, 180.0), species=longest, thickness_mm=100.0)
    found = [*of_slab(slab, DAY), damp_air(place(emc_pct=9.6), INTERIOR)]
    far = dried(at(0, 12.4), at(300, 12.5), emc_pct=12.11, place="P" * 60)
    found += [*of_slab(far, DAY), meter_due(days_before(400), days_before(900), DAY)]
    assert {f.kind for f in found if f} >= {AlertKind.TOO_FAST, AlertKind.STALLED}
    assert all(len(finding.sentence) <= 300 for finding in found if finding)
