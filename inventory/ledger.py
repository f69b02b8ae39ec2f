"""Writing the ledger: the one door through which entries come."""

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
    return LedgerEntry.objects.create(
        slab=slab,
        kind=kind,
        by=by,
        at=at or timezone.now(),
        before=before[:300],
        after=after[:300],
        note=note[:300],
    )
