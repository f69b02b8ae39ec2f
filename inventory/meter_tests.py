"""Tests of a meter against a reference block: the last and the next due follow from them."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory import watch
from inventory.models import Meter, MeterTest, Person

# How long a test is good for unless another day is said (the shop's own choice).
TEST_EVERY = timedelta(days=90)
# A block's own value and a scale's last figure are no finer than this, %.
ALIKE_PCT = 0.5
MOST_PCT = 100.0


class BlockProblem(ValueError):
    """Why a test cannot be recorded: a sentence, and the `field` it belongs beside."""

    def __init__(self, sentence: str, field: str) -> None:
        super().__init__(sentence)
        self.field = field


@transaction.atomic
def record_test(
    meter: Meter,
    *,
    by: Person,
    on: date,
    block_pct: float,
    read_pct: float,
    next_due_on: date | None = None,
    note: str = "",
    now: datetime | None = None,
) -> MeterTest:
    """Append a test and write what follows from it to the meter.

    Raises:
        BlockProblem: a day ahead, a next test before this one, or a number no block has.
    """
    now = now or timezone.now()
    today = timezone.localdate(now)
    if on > today:
        raise BlockProblem("A test cannot be dated ahead of today.", "on")
    if next_due_on is not None and next_due_on <= on:
        raise BlockProblem("The next test comes after this one.", "next_due_on")
    for field, value in (("block_pct", block_pct), ("read_pct", read_pct)):
        if not 0 <= value <= MOST_PCT:
            raise BlockProblem(f"It lies between 0 and {MOST_PCT:.0f} %.", field)
    test = MeterTest.objects.create(
        meter=meter,
        on=on,
        at=now,
        by=by,
        block_pct=block_pct,
        read_pct=read_pct,
        next_due_on=next_due_on or on + TEST_EVERY,
        note=note,
    )
    write(meter)
    watch.look_at_meter(meter, today)
    return test


def stored(meter: Meter) -> dict[str, Any]:
    """What the meter's row keeps of its latest test."""
    latest = meter.tests.order_by("-on", "-at", "-pk").first()
    return {
        "tested_on": latest.on if latest else None,
        "test_due_on": latest.next_due_on if latest else None,
    }


def write(meter: Meter) -> dict[str, Any]:
    """Store what follows from the tests; returns what changed."""
    changed = {name: v for name, v in stored(meter).items() if getattr(meter, name) != v}
    for name, value in changed.items():
        setattr(meter, name, value)
    if changed:
        meter.save(update_fields=list(changed))
    return changed


def offset_words(test: MeterTest) -> str:
    """`Reads 0.4 above the block.`"""
    size = round(abs(test.offset_pct), 1)
    if size == 0:
        return "Reads as the block says."
    return f"Reads {size:.1f} {'above' if test.offset_pct > 0 else 'below'} the block."


def advice(test: MeterTest) -> str:
    """What to do about a meter that is off; "" for one that is not."""
    if abs(test.offset_pct) <= ALIKE_PCT + 1e-9:
        return ""
    return (
        "That is more than half a point: clean the pins, change the battery and test it again. "
        "Readings are not corrected for it."
    )
