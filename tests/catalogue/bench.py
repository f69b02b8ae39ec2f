"""Laying a top by hand, as its pages are asked: addresses, places, and what is kept."""

import re
from typing import Any

from django.test import Client as Browser
from django.urls import reverse

from catalogue.models import Commission
from inventory.models import Slab
from tests.catalogue.wood import level, make_checked
from tests.factories import make_commission


def address(commission: Commission, *slabs: Slab, **places: Any) -> str:
    named = [f"slab={slab.code}" for slab in slabs]
    named += [f"{name.replace('_', '-')}={value}" for name, value in places.items()]
    return f"{reverse('catalogue:lay', args=[commission.pk])}?{'&'.join(named)}"


def text(answer: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", answer.content.decode().replace("\xa0", " "))
    return re.sub(r"\s+", " ", words)


def one(**more: Any) -> tuple[Commission, Slab]:
    """A top 1800 × 600 and a board 2000 × 700."""
    return make_commission(**more), make_checked(7.0, widths=level(700), length_mm=2000)


def at(x: float, y: float, turn: float = 0.0, number: int = 0) -> dict[str, float]:
    return {f"m{number}_x": x, f"m{number}_y": y, f"m{number}_turn": turn}


def keep(client: Browser, commission: Commission, *slabs: Slab, **data: Any) -> Any:
    sent = {name.replace("_", "-"): value for name, value in data.items()}
    return client.post(address(commission, *slabs), sent)


def plates(client: Browser, commission: Commission, slab: Slab, *rows: dict[str, Any]) -> Any:
    data: dict[str, Any] = {"plates": "yes"}
    for number, row in enumerate(rows):
        data |= {f"p{number}-{name}": value for name, value in row.items()}
    return client.post(address(commission, slab), data)
