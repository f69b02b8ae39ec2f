"""Small parts that several pages of the catalogue share."""

from typing import Any

from django import template

from catalogue.match_words import Voice
from catalogue.slab_drawing import silhouette
from inventory.models import Slab
from inventory.wood import measure

JUST_MM = 0.5

register = template.Library()


@register.inclusion_tag("catalogue/parts/slab_row.html", takes_context=True)
def slab_row(context: template.Context, slab: Slab) -> dict[str, Any]:
    """A slab in a line: its picture, or its outline while it has none, its name, size and place."""
    drawn = None if slab.cover_id else silhouette(slab)
    return {"viewer": context.get("viewer"), "slab": slab, "drawn": drawn}


FORM_NAMES = {"square": "Square", "octagon": "Octagon", "ring": "Ring", "box": "Box"}


@register.filter
def area(area_mm2: float, system: str) -> str:
    return measure.format_area(area_mm2, system)


@register.filter
def share(part: float) -> str:
    return f"{part:.0%}"


@register.filter
def resin_volume(volume_mm3: float, system: str) -> str:
    return Voice(system).resin(volume_mm3)


@register.filter
def form_name(kind: str) -> str:
    return FORM_NAMES[kind]


@register.filter
def shift_words(shift_mm: tuple[float, float], system: str) -> str:
    """`20 mm to the right and 5 mm up`."""
    along, across = shift_mm
    ways = [(along, "to the right", "to the left"), (across, "up", "down")]
    said = [
        f"{measure.format_length(abs(mm), system)} {plus if mm > 0 else minus}"
        for mm, plus, minus in ways
        if abs(mm) >= JUST_MM
    ]
    return " and ".join(said) or "a hair"
