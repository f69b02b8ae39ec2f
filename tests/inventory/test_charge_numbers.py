"""The tables beside a charge's charts: days of air, and probes."""

from datetime import date, timedelta

import pytest

from inventory.charge_numbers import air_days, probes_seen
from tests.factories import at


def test_the_air_is_told_by_the_yards_own_days_the_latest_first() -> None:
    rows = [
        (at(2026, 5, 3, 23), 40.0, 60.0, 9.0),
        (at(2026, 5, 4, 1), 42.0, 50.0, 7.0),
        (at(2026, 5, 4, 23), 46.0, 40.0, 5.0),
    ]
    later, first = air_days(rows)
    assert (later.on, later.records) == (date(2026, 5, 4), 2)
    assert (later.temp_c, later.rh_pct, later.emc_pct) == pytest.approx((44.0, 45.0, 6.0))
    assert (first.on, first.records, first.temp_c) == (date(2026, 5, 3), 1, 40.0)
    assert air_days([]) == ()


def test_a_probe_is_told_by_its_ends_and_when_it_was_first_hot() -> None:
    begin = at(2026, 5, 3, 10)
    log = [(begin + timedelta(minutes=5 * i), temp) for i, temp in enumerate((50.0, 56.0, 55.0))]
    hot, cold = probes_seen({"Core 1": log, "Core 2": [(begin, 55.9)], "Core 3": []})
    assert (hot.name, hot.readings, hot.first_at, hot.last_at) == ("Core 1", 3, begin, log[-1][0])
    assert (hot.coldest_c, hot.hottest_c, hot.hot_at) == (50.0, 56.0, log[1][0])
    assert cold.hot_at is None
