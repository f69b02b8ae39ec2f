"""Writing the ledger: the one door through which entries come."""

from collections.abc import Iterable
from datetime import datetime

from django.utils import timezone

from inventory.models import LedgerEntry, LedgerKind, Person, Slab


def write(
    slab: Slab,
    kind: LedgerKind,
    *,
    by: Person | None,
    before: str = "",
    after: str = "",
    note: str = "",
    at: datetime | None = None,
) -> LedgerEntry:
    """Append one entry. `before` and `after` are words a person reads; `by` None is the clock."""
    written = entry(slab, kind, by=by, before=before, after=after, note=note, at=at)
    written.save(force_insert=True)
    return written


def entry(
    slab: Slab,
    kind: LedgerKind,
    *,
    by: Person | None,
    before: str = "",
    after: str = "",
    note: str = "",
    at: datetime | None = None,
) -> LedgerEntry:
    """An entry not yet written, for `write_many`; words too long for the columns are cut."""
    return LedgerEntry(
        slab=slab,
        kind=kind,
        by=by,
        at=at or timezone.now(),
        before=before[:300],
        after=after[:300],
        note=note[:300],
    )


def write_many(entries: Iterable[LedgerEntry]) -> list[LedgerEntry]:
    """Append many at once, in their order."""
    return LedgerEntry.objects.bulk_create(entries)
