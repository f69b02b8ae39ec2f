"""The published table of species: specific gravity, shrinkage, movement, and cautions.

The rows stand in species.csv beside this module; each says in `source` where its numbers were
read and in `origin` whether they were seen there (`source`), recalled (`memory`) or both
(`mixed`).
"""

from __future__ import annotations

import csv
import re
import unicodedata
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path

TABLE = Path(__file__).with_name("species.csv")
NUMBERS = frozenset(
    {
        "sg_green",
        "sg_12",
        "shrink_radial_pct",
        "shrink_tangential_pct",
        "shrink_volumetric_pct",
        "cr",
        "ct",
    }
)


@dataclass(frozen=True)
class SpeciesRow:
    """One species. Numbers are None where no trusted figure was found.

    `sg_green`, `sg_12`: oven-dry mass over volume green and at 12 % MC, relative to water.
    `shrink_*_pct`: green to oven-dry, % of the green dimension. `cr`, `ct`: fractional change per
    1 % MC, radial and tangential, for 6–14 % MC. `key` is unique and stable.
    """

    key: str
    common_name: str
    botanical_name: str
    sg_green: float | None
    sg_12: float | None
    shrink_radial_pct: float | None
    shrink_tangential_pct: float | None
    shrink_volumetric_pct: float | None
    cr: float | None
    ct: float | None
    cites_or_hazard_note: str
    origin: str
    source: str
    other_names: str
    group: str
    origin_sg: str
    origin_shrink: str
    origin_coef: str

    @property
    def slug(self) -> str:
        """The key, under the name web addresses use."""
        return self.key


@cache
def published_species() -> tuple[SpeciesRow, ...]:
    """Every row of the table, in its order. Read once."""
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return tuple(_row(cells) for cells in csv.DictReader(lines))


@cache
def species_by_key() -> dict[str, SpeciesRow]:
    """The same rows by their key."""
    return {row.key: row for row in published_species()}


def key_for(common_name: str) -> str:
    """'Maple, sugar' → 'maple-sugar': lower-case ASCII words joined by hyphens."""
    plain = unicodedata.normalize("NFKD", common_name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")


def _row(cells: dict[str, str]) -> SpeciesRow:
    named: dict[str, str | float | None] = {"key": key_for(cells["common_name"])}
    for field in fields(SpeciesRow):
        if field.name in NUMBERS:
            named[field.name] = float(cells[field.name]) if cells[field.name].strip() else None
        elif field.name != "key":
            named[field.name] = cells[field.name].strip()
    return SpeciesRow(**named)  # type: ignore[arg-type]  # the names and kinds are those above
