"""Quantities as the trade writes them, unit beside the number and set lighter."""

from datetime import date
from decimal import Decimal
from typing import Any

from babel.numbers import format_currency
from django import template
from django.conf import settings
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.wood import masses, measure

register = template.Library()


def quantity(parts: list[tuple[str, str]]) -> SafeString:
    """Numbers and units, unit lighter: [("7", "ft"), ("6", "in")]."""
    pieces = format_html_join(
        "\N{NO-BREAK SPACE}",
        '{}\N{NO-BREAK SPACE}<span class="unit">{}</span>',
        parts,
    )
    return format_html('<span class="quantity">{}</span>', pieces)


def _system(context: template.Context) -> str:
    viewer = context.get("viewer")
    return viewer.system if viewer else str(settings.UNITS)


@register.simple_tag(takes_context=True)
def length(context: template.Context, length_mm: float | None, kind: str = "") -> str:
    """A length in the viewer's units; a dash when not known."""
    if length_mm is None:
        return "–"
    return quantity(measure.split_length(length_mm, _system(context), kind=kind))


@register.simple_tag(takes_context=True)
def length_text(context: template.Context, length_mm: float | None, kind: str = "") -> str:
    """The same without markup, for titles and attributes."""
    if length_mm is None:
        return "–"
    return measure.format_length(length_mm, _system(context), kind=kind)


@register.simple_tag(takes_context=True)
def fine(context: template.Context, length_mm: float | None) -> str:
    """A change or a thickness to 1/32 in or 0.1 mm; a dash when not known."""
    if length_mm is None:
        return "–"
    return quantity(measure.split_fine(length_mm, _system(context)))


@register.simple_tag(takes_context=True)
def mass(context: template.Context, mass_kg: float | None) -> str:
    return "–" if mass_kg is None else measure.format_mass(mass_kg, _system(context))


@register.simple_tag(takes_context=True)
def fine_mass(context: template.Context, mass_kg: float | None) -> str:
    """As a good scale shows it: 1652.2 g, 92.5 lb."""
    return "–" if mass_kg is None else masses.format_mass_fine(mass_kg, _system(context))


@register.simple_tag(takes_context=True)
def temperature(context: template.Context, temp_c: float | None) -> str:
    return "–" if temp_c is None else measure.format_temperature(temp_c, _system(context))


@register.simple_tag(takes_context=True)
def volume(context: template.Context, volume_mm3: float | None) -> str:
    """Board feet or cubic metres, as the viewer counts."""
    return "–" if volume_mm3 is None else measure.format_volume(volume_mm3, _system(context))


@register.simple_tag(takes_context=True)
def area(context: template.Context, area_mm2: float | None) -> str:
    """Square metres or square feet, as the viewer counts; a dash when not known."""
    return "–" if area_mm2 is None else measure.format_area(area_mm2, _system(context))


@register.filter
def board_feet(volume_mm3: float | None) -> str:
    """Board feet to a tenth, with the unit."""
    if volume_mm3 is None:
        return "–"
    return quantity([(f"{measure.board_feet(volume_mm3):,.1f}", "bf")])


@register.filter
def cubic_metres(volume_mm3: float | None) -> str:
    if volume_mm3 is None:
        return "–"
    return quantity([(f"{measure.cubic_metres(volume_mm3):.3f}", "m³")])


@register.filter
def percent(value: float | None, places: int = 1) -> str:
    """Moisture, humidity: `9.4 %`; a dash when not known."""
    if value is None:
        return "–"
    return quantity([(f"{value:.{places}f}", "%")])


@register.filter
def money(amount: Decimal | None) -> str:
    """Shop currency as the locale writes it; a dash when not known."""
    if amount is None:
        return "–"
    return str(format_currency(amount, settings.CURRENCY, locale=settings.MONEY_LOCALE))


@register.filter
def day(value: date | None) -> str:
    """14 March, with the year when it is not this one; a dash when not known."""
    if value is None:
        return "–"
    words = f"{value.day} {value:%B}"
    return words if value.year == timezone.localdate().year else f"{words} {value.year}"


@register.simple_tag
def icon(name: str) -> SafeString:
    """A decorative picture from static/icons.svg (words beside it carry the meaning)."""
    from django.templatetags.static import static

    return format_html(
        '<svg class="icon" aria-hidden="true" focusable="false"><use href="{}#{}"></use></svg>',
        static("icons.svg"),
        name,
    )


@register.inclusion_tag("inventory/parts/state.html")
def condition_mark(slab: Any) -> dict[str, str]:
    """Condition: shape and word."""
    return {"shape": f"condition-{slab.condition}", "words": slab.get_condition_display()}


@register.inclusion_tag("inventory/parts/state.html", takes_context=True)
def standing_mark(context: template.Context, slab: Any) -> dict[str, str]:
    """Standing: shape and word; one that is gone says how. A client learns only that it is kept."""
    viewer = context.get("viewer")
    if viewer and viewer.client_view and slab.standing in ("held", "allotted"):
        return {"shape": "standing-held", "words": "Kept for somebody"}
    words = slab.get_gone_how_display() or slab.get_standing_display()
    return {"shape": f"standing-{slab.standing}", "words": words}
