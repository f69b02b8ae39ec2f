"""The shop's own species tables: which holds for a meter and a species, and taking a new one.

A table replaces the one before it as a whole; the old one stays on record, since checks were
corrected by it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import Meter, MeterCorrection, MeterTable, Method, Person, Species


@dataclass(frozen=True)
class OwnTable:
    """The pairs (reading, moisture content), %, that a table gives for one species."""

    table: MeterTable
    pairs: tuple[tuple[float, float], ...]

    def is_used_by(self, meter: Meter) -> bool:
        """Not where the meter allows for the species itself: nothing is corrected twice."""
        return takes_a_table(meter)


@dataclass(frozen=True)
class TableRow:
    """One row to store; `species_pk` None for any species."""

    species_pk: int | None
    reading_pct: float
    corrected_pct: float


def takes_a_table(meter: Meter) -> bool:
    return not meter.corrects_species and meter.method != Method.WEIGHING


def current_table(meter: Meter) -> MeterTable | None:
    """The latest table of a meter; None where there is none, or it was laid aside."""
    table = meter.tables.latest_first().select_related("by").first()
    return table if table is not None and table.rows.exists() else None


def own_table_for(meter: Meter, species: Species) -> OwnTable | None:
    """What the meter's latest table says of a species: its own rows, else those for any.

    Rows of another species of the same botanical name are its own: the shop may keep a published
    species and its own beside it. Two queries; None where the table says nothing of it.
    """
    table = meter.tables.latest_first().first()
    if table is None:
        return None
    rows = list(table.rows.select_related("species"))
    own = _pairs(row for row in rows if row.species and _is_same_wood(row.species, species))
    other = _pairs(row for row in rows if row.species is None)
    return OwnTable(table, own or other) if own or other else None


@transaction.atomic
def take_table(
    meter: Meter,
    rows: Sequence[TableRow],
    *,
    by: Person,
    note: str = "",
    now: datetime | None = None,
) -> MeterTable:
    """Put a new table in place of the meter's last one; what was checked before stays as it was."""
    table = MeterTable.objects.create(meter=meter, by=by, at=now or timezone.now(), note=note)
    MeterCorrection.objects.bulk_create(_stored(table, rows))
    return table


def lay_aside(meter: Meter, *, by: Person) -> MeterTable:
    """Go back to the published table: a table without rows says so."""
    return take_table(meter, (), by=by, note="Laid aside.")


def _pairs(rows: Iterable[MeterCorrection]) -> tuple[tuple[float, float], ...]:
    return tuple((row.reading_pct, row.corrected_pct) for row in rows)


def _is_same_wood(one: Species, other: Species) -> bool:
    if one.pk == other.pk:
        return True
    return bool(one.botanical_name) and one.botanical_name == other.botanical_name


def _stored(table: MeterTable, rows: Iterable[TableRow]) -> Iterable[MeterCorrection]:
    for row in rows:
        yield MeterCorrection(
            table=table,
            species_id=row.species_pk,
            reading_pct=row.reading_pct,
            corrected_pct=row.corrected_pct,
        )
