"""A slab's facts in the words the ledger keeps: sizes in mm, money in shop currency."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from itertools import zip_longest
from textwrap import wrap
from typing import Any

from babel.numbers import format_currency
from django.conf import settings

from inventory.models import Fault, Figure, Sawn, Slab

LONGEST = 300


def millimetres(value: float) -> str:
    """`673.1 mm`, `2400 mm`."""
    return f"{_number(value)} mm"


def widths(stations: Iterable[Iterable[float]]) -> str:
    """`680, 720, 700 mm`; the place is named where the spacing is not equal."""
    taken = [tuple(station) for station in stations]
    if not taken:
        return "not taken"
    if is_equally_spaced([along for along, _ in taken]):
        return f"{', '.join(_number(width_mm) for _, width_mm in taken)} mm"
    return ", ".join(f"{_number(width)} mm at {along:.0%}" for along, width in taken)


def is_equally_spaced(alongs: list[float]) -> bool:
    """Whether stations run end to end at equal spaces (one alone stands in the middle)."""
    if len(alongs) == 1:
        return alongs == [0.5]
    last = len(alongs) - 1
    return all(abs(along - i / last) < 1e-6 for i, along in enumerate(alongs))


def money(amount: Decimal | None) -> str:
    if amount is None:
        return "none"
    return str(format_currency(amount, settings.CURRENCY, locale=settings.MONEY_LOCALE))


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _labels(choices: type[Figure] | type[Fault], values: Iterable[str]) -> str:
    return ", ".join(str(choices(value).label).lower() for value in values) or "none"


_FACTS: dict[str, tuple[str, Callable[[Any], str]]] = {
    "species": ("Species", lambda species: str(species)),
    "log": ("Log", lambda log: str(log or "none")),
    "number_in_log": ("Number in log", lambda number: str(number or "none")),
    "parcel": ("Parcel", lambda parcel: str(parcel or "none")),
    "length_mm": ("Length", millimetres),
    "thickness_mm": ("Thickness", millimetres),
    "widths": ("Widths", widths),
    "are_widths_unplaced": (
        "Widths taken",
        lambda unplaced: "as least, middle and greatest" if unplaced else "at places along it",
    ),
    "sawn": ("Sawn", lambda sawn: str(Sawn(sawn).label).lower()),
    "sawn_on": ("Sawn on", lambda day: f"{day:%Y-%m-%d}" if day else "not known"),
    "figures": ("Figure", lambda values: _labels(Figure, values)),
    "faults": ("Faults", lambda values: _labels(Fault, values)),
    "asking_price": ("Asking price", money),
    "own_cost": ("Own cost", money),
}


def fact(name: str, value: Any) -> str:
    """One fact as a phrase: `Length 2400 mm`."""
    label, words = _FACTS[name]
    return f"{label} {words(value)}"


def summary(slab: Slab) -> str:
    """What was received: `Black walnut, 2400 × 706 × 54 mm`, and where it was put."""
    sizes = " × ".join(
        _number(size) for size in (slab.length_mm, slab.mean_width_mm, slab.thickness_mm)
    )
    where = slab.bay or slab.place
    return f"{slab.species}, {sizes} mm" + (f", {where}" if where else "")


def in_entries(
    befores: list[str], afters: list[str], longest: int = LONGEST
) -> list[tuple[str, str]]:
    """Phrases of before and after joined into as few pairs as the ledger's columns hold.

    A phrase too long for one column runs on in the next pair, so that nothing is lost.
    """
    pairs: list[tuple[str, str]] = []
    for phrase in zip(befores, afters, strict=True):
        joined = tuple(map("; ".join, zip(pairs[-1], phrase, strict=True))) if pairs else phrase
        if pairs and max(map(len, joined)) <= longest:
            pairs[-1] = (joined[0], joined[1])
        else:
            before, after = (wrap(words, longest) for words in phrase)
            pairs.extend(zip_longest(before, after, fillvalue=""))
    return pairs
