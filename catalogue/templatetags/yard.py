"""Small parts that several pages of the catalogue share."""

from typing import Any

from django import template

from catalogue.slab_drawing import silhouette
from inventory.models import Slab

register = template.Library()


@register.inclusion_tag("catalogue/parts/slab_row.html", takes_context=True)
def slab_row(context: template.Context, slab: Slab) -> dict[str, Any]:
    """A slab in a line: its picture, or its outline while it has none, its name, size and place."""
    drawn = None if slab.cover_id else silhouette(slab)
    return {"viewer": context.get("viewer"), "slab": slab, "drawn": drawn}
