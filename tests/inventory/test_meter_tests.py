"""Tests of a meter on a reference block: the offset, the last, the next due, the warning."""

from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from inventory import meter_tests, watch
from inventory.models import Alert, AlertKind, Meter, MeterTest, Person
from tests.factories import make_meter
from tests.inventory.check_helpers import NOW, TODAY


def block_test(meter: Meter, by: Person, days_ago: int = 0, **kwargs: Any) -> MeterTest:
    defaults = {"block_pct": 12.0, "read_pct": 12.3, "now": NOW}
    on = TODAY - timedelta(days=days_ago)
    return meter_tests.record_test(meter, by=by, on=on, **{**defaults, **kwargs})


def test_the_last_test_and_the_next_due_follow_from_the_tests(worker: Person) -> None:
    meter = make_meter()
    block_test(meter, worker, days_ago=10)
    block_test(meter, worker, days_ago=100)
    meter.refresh_from_db()
    assert meter.tested_on == TODAY - timedelta(days=10)
    assert meter.test_due_on == TODAY + timedelta(days=80)


def test_another_day_may_be_said(worker: Person) -> None:
    meter = make_meter()
    block_test(meter, worker, next_due_on=TODAY + timedelta(days=7))
    assert meter.test_due_on == TODAY + timedelta(days=7)


@pytest.mark.parametrize(
    ("read_pct", "words", "is_off"),
    [
        (12.0, "Reads as the block says.", False),
        (12.5, "Reads 0.5 above the block.", False),
        (11.2, "Reads 0.8 below the block.", True),
    ],
)
def test_the_offset_in_words(worker: Person, read_pct: float, words: str, is_off: bool) -> None:
    test = block_test(make_meter(), worker, read_pct=read_pct)
    assert meter_tests.offset_words(test) == words
    assert bool(meter_tests.advice(test)) is is_off


@pytest.mark.parametrize(
    ("days_ago", "changes", "field"),
    [
        (-1, {}, "on"),
        (0, {"next_due_on": TODAY}, "next_due_on"),
        (0, {"read_pct": 120.0}, "read_pct"),
        (0, {"block_pct": -1.0}, "block_pct"),
    ],
)
def test_what_cannot_be_names_its_field(
    worker: Person, days_ago: int, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(meter_tests.BlockProblem) as problem:
        block_test(make_meter(), worker, days_ago, **changes)
    assert problem.value.field == field
    assert not MeterTest.objects.exists()


def test_a_new_test_resolves_the_warning_of_an_overdue_one(worker: Person) -> None:
    meter = make_meter()
    block_test(meter, worker, days_ago=100)
    watch.look_at_meter(meter, TODAY)
    due = Alert.objects.filter(meter=meter, kind=AlertKind.METER_DUE, resolved_on__isnull=True)
    assert due.count() == 1
    block_test(meter, worker)
    assert not due.exists()


def test_rederive_finds_and_mends_a_meter_that_drifted(worker: Person) -> None:
    meter = make_meter()
    block_test(meter, worker)
    Meter.objects.filter(pk=meter.pk).update(tested_on=None)
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("rederive", check=True, stdout=out)
    assert "tested_on" in out.getvalue()
    call_command("rederive", stdout=StringIO())
    meter.refresh_from_db()
    assert meter.tested_on == TODAY
