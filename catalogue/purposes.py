"""The pieces a slab may be judged for: open commissions, each with the moisture its home wants."""

from dataclasses import replace

from catalogue import matching
from catalogue.models import Commission
from inventory.judging import Purpose
from inventory.viewer import Viewer


def pieces(viewer: Viewer) -> list[Purpose]:
    """Open commissions, soonest start first, for those who keep them; one query, or none."""
    if not viewer.can("keep_commission"):
        return []
    return [purpose(piece) for piece in Commission.objects.open().select_related("client")]


def purpose(commission: Commission) -> Purpose:
    """What a commission asks of its wood; in the address by its primary key."""
    target = replace(matching.target_of(commission), named=f"“{commission.title}”")
    return Purpose(str(commission.pk), commission.promised_to, target)
