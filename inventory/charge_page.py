"""What the page of a charge shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q
from django.utils import timezone

from inventory import boards, charge_charts, charges
from inventory.boards import BoardCourse
from inventory.charge_charts import ChargeAir, ChargeCore
from inventory.charges import Stay
from inventory.models import Charge, CoreLog, SampleBoard
from inventory.words import day_words


@dataclass(frozen=True)
class Page:
    """A charge with its slabs, its air, its sample boards and its core logs."""

    charge: Charge
    when_words: str
    stays: list[Stay]
    moisture_words: str
    rest_words: str
    air: ChargeAir | None
    core: ChargeCore | None
    logs: list[CoreLog]
    boards: list[BoardCourse]

    @property
    def inside(self) -> int:
        return sum(stay.is_inside for stay in self.stays)


def look(charge: Charge, now: datetime, system: str) -> Page:
    """The page at a moment. The number of queries does not grow with slabs or records."""
    today = timezone.localtime(now).date()
    stays = charges.stays_of(charge)
    logs = list(charge.core_logs.select_related("by", "set_aside_by"))
    return Page(
        charge=charge,
        when_words=when_words(charge, today),
        stays=stays,
        moisture_words=charges.moisture_words(stays),
        rest_words=_rest_words(charge, stays, today),
        air=charge_charts.air_of(charge, stays, now, system),
        core=charge_charts.core_of(charge, logs, system),
        logs=logs,
        boards=_boards_of(charge, stays),
    )


def when_words(charge: Charge, today: date) -> str:
    """`Since 3 May, 12 days`, or `From 3 to 21 May, 18 days`."""
    began = day_words(charge.started_on, today)
    if charge.ended_on is None and charge.started_on == today:
        return "Begun today"
    if charge.ended_on is None:
        return f"Runs since {began}, {_days((today - charge.started_on).days)}"
    ended = day_words(charge.ended_on, today)
    return f"From {began} to {ended}, {_days((charge.ended_on - charge.started_on).days)}"


def _rest_words(charge: Charge, stays: Sequence[Stay], today: date) -> str:
    """Until when its slabs rest; only of a charge that has ended not long ago."""
    if charge.ended_on is None or (today - charge.ended_on).days > charges.CHECK_DAYS:
        return ""
    until = charges.rest_until([stay.slab for stay in stays])
    if until is None:
        return "Some of its slabs lie in no shop air now, so their rest has not begun."
    if until <= today:
        return f"Its slabs have had their rest in shop air since {day_words(until, today)}."
    return f"Its slabs rest in shop air until {day_words(until, today)}."


def _boards_of(charge: Charge, stays: Sequence[Stay]) -> list[BoardCourse]:
    """Sample boards in use that stand for its slabs, their logs, or what lies in its bays."""
    slabs = [stay.slab for stay in stays]
    logs = {slab.log_id for slab in slabs if slab.log_id is not None}
    stands = Q(slab__in=[slab.pk for slab in slabs]) | Q(log__in=logs)
    if charge.is_running:
        stands |= Q(bay__place=charge.place)
    found = SampleBoard.objects.filter(stands, is_retired=False)
    return [boards.course_of(board) for board in boards.with_course(found)]


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"
