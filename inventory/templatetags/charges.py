"""The charges a slab has been in, for its page."""

from typing import Any

from django import template

from inventory import charges
from inventory.models import Slab

register = template.Library()


@register.inclusion_tag("inventory/parts/charges_of.html")
def charges_of(slab: Slab) -> dict[str, Any]:
    """A fact of the slab's page; nothing where it has been in none. One query."""
    return {"stays": charges.of_slab(slab)}
