"""What people wrote beside slabs, and what the shop asks for them."""

import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path

import numpy as np

from inventory.demo.look import SourceError, SpeciesLook
from inventory.models import Fault, Figure, Sawn, Slab
from inventory.wood import measure

FILE = "slab_notes.toml"
WIDE_MM, NARROW_MM = 720.0, 380.0
KINDS = frozenset([*Figure.values, *Fault.values, *filter(None, Sawn.values), "wide", "narrow"])
ANY = "any"
Pool = Mapping[str, Sequence[str]]

_FIGURE_WORTH = {
    Figure.BURL: 1.45,
    Figure.CURL: 1.25,
    Figure.QUILT: 1.3,
    Figure.BIRDSEYE: 1.35,
    Figure.SPALT: 1.15,
    Figure.CROTCH: 1.4,
    Figure.FLECK: 1.1,
}
_FAULT_WORTH = {Fault.ROT: 0.75, Fault.HOLE: 0.92, Fault.TWIST: 0.85, Fault.CUP: 0.95}


def load_notes(folder: Path) -> dict[str, Pool]:
    """The pools of `house` and `client` notes by what they belong to.

    Raises SourceError where a pool is missing or belongs to nothing on the record.
    """
    tables = tomllib.loads((folder / FILE).read_text(encoding="utf-8"))
    pools = {name: tables.get(name, {}) for name in ("house", "client")}
    for name, pool in pools.items():
        if not pool.get(ANY):
            raise SourceError(f"{FILE}: {name} has no notes for {ANY} slab.")
        if unknown := set(pool) - KINDS - {ANY}:
            raise SourceError(f"{FILE}: {name}: {', '.join(sorted(unknown))} is not on a slab.")
    return pools


def note(pool: Pool, slab: Slab, share: float, rng: np.random.Generator) -> str:
    """A note for some of the slabs, most often about what is special in this one."""
    if rng.random() > share:
        return ""
    fitting = [text for kind in _kinds(slab) for text in pool.get(kind, ())]
    chosen = fitting if fitting and rng.random() < 0.7 else list(pool[ANY])
    return chosen[int(rng.integers(len(chosen)))]


def _kinds(slab: Slab) -> list[str]:
    kinds = [*slab.figures, *slab.faults, slab.sawn]
    if slab.mean_width_mm > WIDE_MM:
        kinds.append("wide")
    if slab.mean_width_mm < NARROW_MM:
        kinds.append("narrow")
    return kinds


def asking_price(slab: Slab, look: SpeciesLook) -> Decimal:
    """By the board foot, more for figure, thickness and breadth, less for faults; a round sum."""
    factor = max([_FIGURE_WORTH[Figure(name)] for name in slab.figures], default=1.0)
    for fault in slab.faults:
        factor *= _FAULT_WORTH.get(Fault(fault), 1.0)
    factor *= 1.12 if slab.thickness_mm >= 64 else 1.0
    factor *= 1.10 if slab.mean_width_mm > WIDE_MM else 1.0
    factor *= 0.85 if slab.mean_width_mm < NARROW_MM else 1.0
    price = measure.board_feet(slab.volume_mm3) * float(look.asking_per_bf) * factor
    return rounded(price)


def rounded(price: float) -> Decimal:
    """As a shop writes it on the tag: to 5 below 500, to 10 below 2,000, to 50 above."""
    step = 5 if price < 500 else 10 if price < 2000 else 50
    return Decimal(max(step, round(price / step) * step))
