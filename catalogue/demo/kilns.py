"""Charges of the invented kiln: what was in it together, and the day one was taken hot.

The stacks go in and out through inventory/charges.py, as the stages of their logs say.
"""

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from datetime import datetime, timedelta

from catalogue.demo.clock import chance
from catalogue.demo.stock import Yard
from inventory import charges, core_logs
from inventory.demo import yard as source
from inventory.models import AirRecord, Bay, Charge, Person, Place
from inventory.wood import humidity

HOT_FROM_HOUR, HOT_TO_HOUR = 8, 16
HOT_AIR_C, HOT_RH_PCT = 64.0, 55.0
CORE_STARTS_C, CORE_ENDS_C = 44.0, 59.5
LOGGED_EVERY_MINUTES = 10
# The probes come up at their own pace; the thickest slab's is last.
PROBES = (("Core of slab 2", 2.2), ("Core of slab 5", 2.6), ("Core of slab 8", 2.9))


class Kilns:
    """Opens, fills and ends the charges of a yard while its logs go through their stages."""

    def __init__(self, yard: Yard) -> None:
        self.yard = yard
        self.opened: dict[str, Charge] = {}
        self._inside: set[str] = set()

    def follow(
        self, log: source.Log, stage: source.Stage, bay: Bay, by: Person, gone: AbstractSet[int]
    ) -> None:
        """Bring the log's slabs into its charge when this stage begins it, or end it when it is
        the next; a slab that came to grief while the kiln was loaded never went in."""
        row = next((one for one in self.yard.source.charges if log.code in one.logs), None)
        if row is None:
            return
        if stage.place == row.place:
            self._put_in(row, log, stage, bay, by, gone)
            self._inside.add(log.code)
        elif log.code in self._inside and self.opened[row.name].is_running:
            self._end(row, stage, bay, by)

    def _put_in(
        self,
        row: source.Charge,
        log: source.Log,
        stage: source.Stage,
        bay: Bay,
        by: Person,
        gone: AbstractSet[int],
    ) -> None:
        pieces = self.yard.of_log(log.code)
        slabs = [piece.slab for piece in pieces if piece.number not in gone]
        on, now = self.yard.clock.day(stage.from_days_ago), self._afternoon(stage)
        if row.name in self.opened:
            charges.add_slabs(self.opened[row.name], slabs, on=on, by=by, now=now, bay=bay)
            return
        self.opened[row.name] = charges.open_charge(
            self.yard.places[row.place],
            slabs,
            started_on=on,
            by=by,
            now=now,
            name=row.name,
            bay=bay,
            note=row.note,
        )

    def _end(self, row: source.Charge, stage: source.Stage, bay: Bay, by: Person) -> None:
        on, now = self.yard.clock.day(stage.from_days_ago), self._afternoon(stage)
        charge = self.opened[row.name]
        ended = charges.end_charge(charge, place=bay.place, on=on, by=by, now=now, bay=bay)
        self.opened[row.name] = ended.charge
        if row.heated_days_ago is not None:
            text = _core_log(self.yard, row.heated_days_ago)
            core_logs.take_log(ended.charge, text, by=by, now=now, fahrenheit=False)

    def _afternoon(self, stage: source.Stage) -> datetime:
        return self.yard.clock.at(stage.from_days_ago, 16)


def heat(yard: Yard, place: Place, records: Iterable[AirRecord]) -> None:
    """Make the kiln's air hot, in records not yet stored, while its charge was taken hot."""
    spans = [
        (yard.clock.at(row.heated_days_ago, HOT_FROM_HOUR), row)
        for row in yard.source.charges
        if row.heated_days_ago is not None and row.place == place.name
    ]
    hours = timedelta(hours=HOT_TO_HOUR - HOT_FROM_HOUR)
    for record in records:
        if any(begin <= record.at <= begin + hours for begin, _ in spans):
            record.temp_c, record.rh_pct, record.given_value = HOT_AIR_C, HOT_RH_PCT, HOT_RH_PCT
            record.emc_pct = float(humidity.emc_pct(HOT_AIR_C, HOT_RH_PCT))


def _core_log(yard: Yard, days_ago: int) -> str:
    """A recorder's table of that day: each probe comes up toward the air and holds there."""
    rng = chance(yard.seed, "core log", days_ago)
    begin = yard.clock.at(days_ago, HOT_FROM_HOUR)
    lines = ["Time," + ",".join(f"{name} (°C)" for name, _ in PROBES)]
    minutes = range(0, (HOT_TO_HOUR - HOT_FROM_HOUR) * 60 + 1, LOGGED_EVERY_MINUTES)
    for minute in minutes:
        cells = [f"{_core_c(minute / 60, pace) + rng.normal(0, 0.1):.1f}" for _, pace in PROBES]
        moment = begin + timedelta(minutes=minute)
        lines.append(f"{moment:%Y-%m-%d %H:%M}," + ",".join(cells))
    return "\n".join(lines)


def _core_c(hours: float, pace_hours: float) -> float:
    """Slow at first, as heat takes its time to the middle."""
    share = 1.0 - 1.0 / (1.0 + (hours / pace_hours) ** 4)
    return CORE_STARTS_C + (CORE_ENDS_C - CORE_STARTS_C) * share
