"""How a loaded demo yard is known again, and who may look around in it.

Kept light: every start of the demo asks, and only the first needs what draws and dries.
"""

import tomllib
from pathlib import Path

from django.conf import settings

from inventory.models import LedgerEntry, LedgerKind, Parcel, Place, Slab

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
PASSWORD = "bark-and-heartwood"
"""Of everybody in the invented yard, which only this machine can reach."""


class OtherSlabs(ValueError):
    """The database is somebody's own yard: a sentence for the screen."""


def words() -> str:
    """What the ledger says of the first slab; no entry can ever be changed or taken out."""
    text = (FIXTURES / "yard.toml").read_text(encoding="utf-8")
    return f"The first slab on the record of {tomllib.loads(text)['workshop']['name']}."


def is_loaded() -> bool:
    """Whether this database holds the invented workshop."""
    return LedgerEntry.objects.filter(kind=LedgerKind.RECEIVED, note=words()).exists()


def refuse_another_yard() -> None:
    """Raise OtherSlabs where somebody has begun a yard of their own."""
    if Slab.objects.exists() or Place.objects.exists() or Parcel.objects.exists():
        raise OtherSlabs(
            "This database belongs to another yard, and the demo yard is never mixed with one. "
            "Start it without DATABASE_URL, or with the address of an empty database."
        )
