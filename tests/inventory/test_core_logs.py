"""Core logs of a charge: taken in once, set aside where wrong, and what they show of heat."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory import charges, core_logs
from inventory.core_logs import CoreTaken
from inventory.models import Charge, CoreLog, CoreTemperature, HistoryIsKept
from tests.factories import at, make_place, make_slab

pytestmark = pytest.mark.django_db

NOW = at(2026, 5, 20)
NBSP = "\N{NO-BREAK SPACE}"


@pytest.fixture(autouse=True)
def _frozen() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def charge(db: None) -> Charge:
    kiln = make_place("kiln")
    return charges.open_charge(kiln, [make_slab()], started_on=date(2026, 5, 1), by=None, now=NOW)


def log_text(probes: dict[str, list[float]], begin: str = "2026-05-03 10:00") -> str:
    """A reading a minute for each probe from `begin` on."""
    first = datetime.fromisoformat(begin)
    lines = [f"Time,{','.join(probes)}"]
    for minute, row in enumerate(zip(*probes.values(), strict=True)):
        lines.append(
            f"{first + timedelta(minutes=minute):%Y-%m-%d %H:%M},{','.join(map(str, row))}"
        )
    return "\n".join(lines)


def take(charge: Charge, text: str) -> CoreTaken:
    return core_logs.take_log(charge, text, by=None, now=NOW, fahrenheit=False)


def shown(charge: Charge, system: str = "metric") -> str:
    heat = core_logs.heat_of(charge, core_logs.temperatures_of(charge), system)
    assert heat is not None
    return heat.sentence.replace(NBSP, " ")


def test_heat_held_at_every_probe_is_told_with_its_moments(charge: Charge) -> None:
    """A reading a minute from 10:00 to 10:50, one probe at 60 °C and one at just 56."""
    take(charge, log_text({"Core 1": [60.0] * 51, "Core 2": [56.0] * 51}))
    assert shown(charge) == (
        "56 °C or more was held at both probes (Core 1 and Core 2) for 50 minutes without a break, "
        "from 10:00 to 10:50 on 3 May 2026; 30 minutes were full at 10:30."
    )
    assert shown(charge, "imperial").startswith("133 °F or more")


def test_heat_too_short_is_told_with_the_longest_run(charge: Charge) -> None:
    take(charge, log_text({"Core": [60.0] * 21}))
    assert shown(charge) == (
        "56 °C for 30 minutes is not shown: the longest without a break at the only probe (Core) "
        "was 20 minutes, from 10:00 to 10:20 on 3 May 2026."
    )


def test_heat_never_reached_tells_how_far_the_least_hot_came(charge: Charge) -> None:
    take(charge, log_text({"A": [60.0] * 40, "B": [51.0] * 40, "C": [58.0] * 40}))
    assert shown(charge) == (
        "56 °C for 30 minutes is not shown at all 3 probes at once. "
        "The least hot of them reached 51 °C."
    )


def test_no_log_shows_nothing(charge: Charge) -> None:
    assert core_logs.heat_of(charge, core_logs.temperatures_of(charge), "metric") is None


def test_a_log_sent_twice_or_overlapping_is_not_doubled(charge: Charge) -> None:
    text = log_text({"Core": [60.0] * 20})
    assert take(charge, text).added == 20
    again = take(charge, text)
    assert (again.added, again.known) == (0, 20)
    overlapping = take(charge, log_text({"Core": [60.0] * 30}))
    assert (overlapping.added, overlapping.known) == (10, 20)
    assert CoreTemperature.objects.count() == 30
    assert CoreLog.objects.count() == 2


def test_other_numbers_of_a_moment_on_record_are_left_out_and_told(charge: Charge) -> None:
    take(charge, log_text({"Core": [60.0] * 5}))
    taken = take(charge, log_text({"Core": [61.0] * 5}))
    assert (taken.added, taken.differing) == (0, 5)
    assert "5 readings differ from the record" in taken.in_words


def test_readings_that_cannot_be_of_this_charge_are_told_with_their_lines(charge: Charge) -> None:
    text = (
        "Time,Core\n2026-04-30 10:00,50\n2026-05-03 10:00,55\n2026-05-03 10:05,1560\n"
        "2026-06-03 10:00,56"
    )
    taken = take(charge, text)
    assert taken.added == 1
    assert [problem.line for problem in taken.problems] == [2, 4, 5]
    reasons = " ".join(problem.reason for problem in taken.problems)
    assert "before the charge began, on 1 May 2026" in reasons
    assert "no core is at 1560 °C" in reasons
    assert "not come yet" in reasons
    assert taken.to_mend.splitlines()[0] == "Time,Core"


def test_readings_after_the_charge_ended_are_told(charge: Charge) -> None:
    charges.end_charge(charge, place=make_place("shop"), on=date(2026, 5, 9), by=None, now=NOW)
    charge.refresh_from_db()
    taken = take(charge, "Time,Core\n2026-05-09 23:50,55\n2026-05-10 00:10,55")
    assert taken.added == 1
    assert "after the charge ended, on 9 May 2026" in taken.problems[0].reason


def test_a_wrong_log_set_aside_counts_no_longer_and_its_moments_may_come_anew(
    charge: Charge,
) -> None:
    take(charge, log_text({"Core": [60.0] * 41}))
    log = CoreLog.objects.get()
    core_logs.set_aside(log, why="The probe hung in the air.", by=None, now=NOW)
    assert core_logs.temperatures_of(charge) == {}
    assert CoreTemperature.objects.filter(log=log).count() == 41
    assert take(charge, log_text({"Core": [50.0] * 41})).added == 41
    assert "not shown" in shown(charge)


def test_setting_aside_takes_a_reason_and_is_done_once(charge: Charge) -> None:
    take(charge, log_text({"Core": [60.0] * 3}))
    log = CoreLog.objects.get()
    with pytest.raises(ValidationError, match="Say why"):
        core_logs.set_aside(log, why="  ", by=None, now=NOW)
    core_logs.set_aside(log, why="Wrong charge", by=None, now=NOW)
    with pytest.raises(ValidationError, match="already"):
        core_logs.set_aside(log, why="Again", by=None, now=NOW)


def test_readings_are_history(charge: Charge) -> None:
    take(charge, log_text({"Core": [60.0] * 3}))
    row = CoreTemperature.objects.all()[0]
    with pytest.raises(HistoryIsKept):
        row.save()
    with pytest.raises(HistoryIsKept):
        CoreTemperature.objects.all().delete()


def test_times_without_an_offset_are_of_the_yards_clock(charge: Charge) -> None:
    take(charge, "Time,Core\n2026-05-03 10:00,55\n2026-05-03 10:05,55")
    first = CoreTemperature.objects.order_by("at")[0]
    assert timezone.localtime(first.at).strftime("%H:%M") == "10:00"


def test_a_long_log_goes_in_whole(charge: Charge) -> None:
    taken = take(charge, log_text({"A": [57.0] * 2500, "B": [58.0] * 2500}))
    assert taken.added == 5000
    assert "2,499 minutes" in shown(charge)
