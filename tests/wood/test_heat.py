"""Heat held through, on logs whose answer is known by their making.

The treatment itself is ISPM 15's HT: 56 °C for 30 continuous minutes through the core.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.wood.heat import HeatHold, Span, gap_limit_s, held_through

MIN = 60.0
Log = list[tuple[float, float]]


def flat(temp_c: float, minutes: int, step: int = 1, begin: int = 0) -> Log:
    return [(m * MIN, temp_c) for m in range(begin, begin + minutes + 1, step)]


def ramp(minutes: int, from_c: float, to_c: float) -> Log:
    """A reading a minute along a straight line."""
    return [(m * MIN, from_c + (to_c - from_c) * m / minutes) for m in range(minutes + 1)]


def minutes_of(found: HeatHold) -> list[tuple[float, float]]:
    return [(span.begin_s / MIN, span.end_s / MIN) for span in found.spans]


def test_exactly_56_degrees_for_exactly_half_an_hour_is_held() -> None:
    found = held_through({"core": flat(56.0, 30)})
    assert found.held == Span(0.0, 30 * MIN)
    assert found.reached_s == 30 * MIN


def test_a_minute_less_is_not() -> None:
    found = held_through({"core": flat(60.0, 29)})
    assert found.held is None
    assert found.longest == Span(0.0, 29 * MIN)


def test_just_below_56_is_never_hot() -> None:
    found = held_through({"core": flat(55.99, 600)})
    assert found.spans == ()
    assert found.coldest_c == 55.99


def test_crossings_lie_on_the_straight_line_between_readings() -> None:
    """Up from 46 to 66 °C in 10 min readings 5 min apart: 56 °C at just 5 min; then down from 66
    to 46 in 5 min, through 56 half-way, at 42.5 min."""
    log = [(0, 46), (5 * MIN, 56), (10 * MIN, 66), *flat(66, 25, 5, 15), (45 * MIN, 46)]
    assert minutes_of(held_through({"core": log})) == [(5.0, 42.5)]


def test_a_ramp_between_readings_is_cut_at_its_crossing() -> None:
    log = [(0.0, 50.0), (4 * MIN, 58.0), *flat(58, 40, 4, 8)]
    found = held_through({"core": log})
    assert found.held is not None
    assert found.held.begin_s == pytest.approx(3 * MIN)
    assert found.reached_s == pytest.approx(33 * MIN)


def test_every_probe_must_be_hot_at_once() -> None:
    """One is hot from 0 to 40 min, the other from 20 to 60: together 20 min."""
    early = [*flat(60, 40), (41 * MIN, 20.0), *flat(20, 19, begin=42)]
    late = [*flat(20, 18), (19 * MIN, 20.0), *flat(60, 40, begin=20)]
    found = held_through({"a": early, "b": late})
    assert found.held is None
    (span,) = found.spans
    assert span.seconds / MIN == pytest.approx(20, abs=1.1)
    assert held_through({"a": early}).is_held
    assert held_through({"b": late}).is_held


def test_a_probe_that_read_nothing_was_not_hot() -> None:
    found = held_through({"a": flat(60, 60), "b": []})
    assert not found.is_held
    assert found.coldest_c is None


def test_a_dip_of_one_reading_begins_the_time_anew() -> None:
    log = [*flat(60, 20), (21 * MIN, 55.0), *flat(60, 20, begin=22)]
    found = held_through({"core": log})
    assert found.held is None
    assert len(found.spans) == 2


def test_the_first_run_that_is_long_enough_counts() -> None:
    log = [*flat(60, 10), (11 * MIN, 40.0), *flat(60, 35, begin=12), (48 * MIN, 40.0)]
    log += flat(60, 200, begin=49)
    found = held_through({"core": log})
    assert found.held is not None
    assert found.held.begin_s == pytest.approx(11.8 * MIN)
    assert found.longest is not None
    assert found.longest.seconds > found.held.seconds


def test_a_gap_of_three_intervals_is_bridged_and_a_longer_one_is_not() -> None:
    """A reading a minute: 3 min without one counts across, 4 min does not."""
    bridged = held_through({"core": [*flat(60, 15), *flat(60, 15, begin=18)]})
    broken = held_through({"core": [*flat(60, 15), *flat(60, 15, begin=19)]})
    assert bridged.is_held
    assert bridged.gaps == 0
    assert not broken.is_held
    assert broken.gaps == 1
    assert minutes_of(broken) == [(0, 15), (19, 34)]


def test_ten_minutes_is_the_longest_gap_whatever_the_interval() -> None:
    assert held_through({"core": flat(60, 60, step=10)}).is_held
    too_seldom = held_through({"core": flat(60, 110, step=11)})
    assert not too_seldom.is_held
    assert too_seldom.spans == ()
    assert gap_limit_s([0, 300, 600, 900]) == 600
    assert gap_limit_s([0, 60, 120]) == 180
    assert gap_limit_s([0]) == gap_limit_s([]) == 0


def test_no_probe_one_reading_or_none_shows_nothing() -> None:
    assert not held_through({}).is_held
    assert held_through({}).coldest_c is None
    assert held_through({"core": [(0.0, 80.0)]}).spans == ()


def test_of_two_readings_at_one_instant_the_colder_counts() -> None:
    log = [*flat(60, 40), (20 * MIN, 50.0)]
    assert not held_through({"core": log}).is_held


def test_the_order_of_the_lines_does_not_matter() -> None:
    log = ramp(60, 40, 70)
    shuffled = log[:]
    random.Random(7).shuffle(shuffled)
    assert held_through({"core": shuffled}) == held_through({"core": log})


@given(
    st.integers(1, 90),
    st.floats(30, 55.9),
    st.floats(56.1, 80),
    st.integers(1, 60),
)
def test_the_time_held_is_that_of_the_making(
    climb: int, cold_c: float, hot_c: float, stay: int
) -> None:
    """A straight climb of `climb` minutes, then `stay` minutes hot: the crossing is known."""
    log = ramp(climb, cold_c, hot_c) + flat(hot_c, stay - 1, begin=climb + 1)
    found = held_through({"core": log})
    crossing_min = climb * (56.0 - cold_c) / (hot_c - cold_c)
    assert found.longest is not None
    assert found.longest.begin_s / MIN == pytest.approx(crossing_min, abs=1e-6)
    assert found.longest.end_s / MIN == pytest.approx(climb + stay)
    long_enough = climb + stay - crossing_min
    if abs(long_enough - 30) > 1e-3:
        assert found.is_held == (long_enough >= 30)


@given(st.lists(st.floats(40, 70), min_size=2, max_size=60), st.floats(0, 5))
def test_a_second_probe_never_makes_it_hotter(temps: list[float], less: float) -> None:
    log = [(m * MIN, c) for m, c in enumerate(temps)]
    colder = [(at, c - less) for at, c in log]
    alone = held_through({"a": log})
    both = held_through({"a": log, "b": colder})
    assert sum(s.seconds for s in both.spans) <= sum(s.seconds for s in alone.spans) + 1e-6
