"""How each species looks, read from `fixtures/species_looks.toml`."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal, cast, get_args

Rgb = tuple[int, int, int]
Porosity = Literal["ring", "semi-ring", "diffuse", "softwood"]
FIGURES = frozenset(("plain", "burl", "curl", "quilt", "birdseye", "spalt", "crotch", "ray fleck"))


class SourceError(ValueError):
    """The demo yard's source data says something that cannot be used."""


@dataclass(frozen=True)
class SpeciesLook:
    """Colours (sRGB), grain and going price of one species.

    `ring_mm` is the usual ring spacing; `grain` 0..1 how plainly rings show;
    `fleck` 0..1 how plainly rays show on a quarter-sawn face; `sap_mm` the width
    of the sapwood band; `bark_hold` 0..1 how much of a slab's edge keeps its bark.
    """

    common_name: str
    botanical_name: str
    heart: Rgb
    sap: Rgb
    late: Rgb
    bark: Rgb
    ring_mm: float
    porosity: Porosity
    grain: float
    fleck: float
    sap_mm: float
    bark_hold: float
    figures: tuple[str, ...]
    asking_per_bf: Decimal


def load_looks(path: Path) -> dict[str, SpeciesLook]:
    """Every species' look by its common name. Raises SourceError, naming the row."""
    rows = tomllib.loads(path.read_text(encoding="utf-8")).get("species", [])
    looks = [_look(row) for row in rows]
    names = [look.common_name for look in looks]
    for name in names:
        if names.count(name) > 1:
            raise SourceError(f"{path.name}: {name} is listed twice.")
    return dict(zip(names, looks, strict=True))


def _look(row: Mapping[str, Any]) -> SpeciesLook:
    name = str(row.get("common_name", "a species without a name"))
    try:
        look = SpeciesLook(
            common_name=str(row["common_name"]),
            botanical_name=str(row["botanical_name"]),
            heart=_rgb(row["heart"]),
            sap=_rgb(row["sap"]),
            late=_rgb(row["late"]),
            bark=_rgb(row["bark"]),
            ring_mm=float(row["ring_mm"]),
            porosity=cast(Porosity, row["porosity"]),
            grain=float(row["grain"]),
            fleck=float(row["fleck"]),
            sap_mm=float(row["sap_mm"]),
            bark_hold=float(row["bark_hold"]),
            figures=tuple(row["figures"]),
            asking_per_bf=Decimal(str(row["asking_per_bf"])),
        )
    except KeyError as missing:
        raise SourceError(f"{name}: {missing.args[0]} is missing.") from None
    except (TypeError, ValueError, ArithmeticError) as wrong:
        raise SourceError(f"{name}: {wrong}") from None
    _check(look)
    return look


def _check(look: SpeciesLook) -> None:
    if look.porosity not in get_args(Porosity):
        raise SourceError(f"{look.common_name}: {look.porosity!r} is not a kind of porosity.")
    if unknown := set(look.figures) - FIGURES:
        raise SourceError(f"{look.common_name}: unknown figure {', '.join(sorted(unknown))}.")
    if not (look.ring_mm > 0 and look.sap_mm >= 0 and look.asking_per_bf > 0):
        raise SourceError(f"{look.common_name}: spacing, sapwood and price must be positive.")
    for share in (look.grain, look.fleck, look.bark_hold):
        if not 0 <= share <= 1:
            raise SourceError(f"{look.common_name}: {share} is not between 0 and 1.")


def _rgb(text: str) -> Rgb:
    """`#6b4a35` as three numbers 0..255."""
    if len(text) != 7 or not text.startswith("#"):
        raise ValueError(f"{text!r} is not a colour such as #6b4a35.")
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)
