"""A yard of many slabs for benchmarks: rows written straight into a SQLite file, no Django objects.

Each slab has 3 pictures' rows (no files) and 3 moisture checks of 4 readings. The numbers are
invented, and the same for the same seed; derived columns agree with the facts they stand for only
as far as a benchmark needs: counts, sizes and states are spread as in a real yard.
"""

import json
import random
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connections, models
from django.db.backends.sqlite3.base import DatabaseWrapper

from inventory import codes
from inventory.models import Figure, Log, MoistureCheck, Parcel, Photo, Place, Reading, Slab

SLABS = 100_000
CHECKS_EACH, READINGS_EACH, PHOTOS_EACH = 3, 4, 3
CHUNK = 5_000
SPECIES, PLACES, SLABS_A_LOG, LOGS_A_PARCEL = 40, 12, 10, 8
TODAY = date(2026, 5, 1)

SQLITE: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA cache_size=-20000;"
        "PRAGMA mmap_size=134217728;"
    ),
}


@contextmanager
def yard_as_default(path: Path) -> Iterator[DatabaseWrapper]:
    """Make the SQLite file at `path` what Django's default connection speaks to, for a while."""
    before = connections["default"]
    config = connections.configure_settings({"default": {"ENGINE": "django.db.backends.sqlite3"}})
    wrapper = DatabaseWrapper(
        {**config["default"], "NAME": str(path), "OPTIONS": SQLITE, "TIME_ZONE": None},
        alias="default",
    )
    connections["default"] = wrapper
    try:
        yield wrapper
    finally:
        wrapper.close()
        connections["default"] = before


def make_yard(path: Path, slabs: int = SLABS, seed: int = 7) -> None:
    """Migrate a new file and fill it. About a minute for 100,000 slabs on one core."""
    with yard_as_default(path):
        call_command("migrate", verbosity=0)
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA synchronous=OFF")
    connection.execute("PRAGMA foreign_keys=OFF")
    _Yard(connection, slabs, random.Random(seed)).write()
    connection.close()


@dataclass
class _Yard:
    connection: sqlite3.Connection
    slabs: int
    rng: random.Random

    def write(self) -> None:
        self._ground()
        given = codes.fresh_codes(self.slabs, set(), self.rng)
        for first in range(0, self.slabs, CHUNK):
            keys = range(first + 1, min(first + CHUNK, self.slabs) + 1)
            with self.connection:
                self._insert(Slab, (self._slab(key, given[key - 1]) for key in keys))
                self._insert(Photo, (self._photo(key, n) for key in keys for n in range(3)))
                self._insert(MoistureCheck, (row for key in keys for row in self._checks(key)))
                self._insert(Reading, (row for key in keys for row in self._readings(key)))

    def _ground(self) -> None:
        logs = -(-self.slabs // SLABS_A_LOG)
        with self.connection:
            self._insert(Place, (_place(key) for key in range(1, PLACES + 1)))
            self._insert(Parcel, (_parcel(key) for key in range(1, -(-logs // LOGS_A_PARCEL) + 1)))
            self._insert(Log, (self._log(key) for key in range(1, logs + 1)))

    def _insert(self, model: type[models.Model], rows: Iterator[dict[str, Any]]) -> None:
        """One statement for all; columns a row does not name get the model's default."""
        fields = model._meta.concrete_fields
        defaults: dict[str, Any] = {str(field.column): _default(field) for field in fields}
        columns = ", ".join(f'"{field.column}"' for field in fields)
        marks = ", ".join("?" * len(fields))
        self.connection.executemany(
            f'INSERT INTO "{model._meta.db_table}" ({columns}) VALUES ({marks})',
            (tuple({**defaults, **row}.values()) for row in rows),
        )

    def _log(self, key: int) -> dict[str, Any]:
        parcel = (key - 1) // LOGS_A_PARCEL + 1
        return {"id": key, "number": f"L{key}", "species_id": self._species(), "parcel_id": parcel}

    def _species(self) -> int:
        """A few kinds make up most of a yard."""
        return min(1 + int(self.rng.expovariate(0.12)), SPECIES)

    def _slab(self, key: int, code: str) -> dict[str, Any]:
        rng = self.rng
        length, thickness = rng.uniform(900, 4800), rng.choice((27.0, 42.0, 54.0, 66.0, 80.0))
        widths = [[i / 4, rng.uniform(300, 1200)] for i in range(5)]
        mean = sum(width for _, width in widths) / 5
        figures = sorted(rng.sample(Figure.values, rng.choice((0, 0, 0, 1, 1, 2))))
        standing = rng.choices(("free", "held", "allotted", "gone"), (70, 8, 7, 15))[0]
        return {
            "id": key,
            "code": code,
            "species_id": self._species(),
            "log_id": (key - 1) // SLABS_A_LOG + 1,
            "number_in_log": (key - 1) % SLABS_A_LOG + 1,
            "sawn": rng.choice(("flat", "flat", "rift", "quarter", "")),
            "length_mm": length,
            "thickness_mm": thickness,
            "widths": json.dumps(widths),
            "figures": json.dumps(figures),
            "faults": "[]",
            "figure_words": "".join(f"|{one}" for one in figures) + "|",
            "place_id": rng.choice((None, *range(1, PLACES + 1))),
            "asking_price": f"{rng.randrange(80, 4000)}.00" if rng.random() > 0.1 else None,
            "house_note": "Bark is loose along the far edge; glue it before it is shown." * 2,
            "client_note": "Even wane on both sides, good for a dining table." * 2,
            "received_at": _moment(TODAY - timedelta(days=rng.randrange(1500))),
            "mean_width_mm": mean,
            "least_width_mm": min(width for _, width in widths),
            "greatest_width_mm": max(width for _, width in widths),
            "area_mm2": mean * length,
            "volume_mm3": mean * length * thickness,
            "cost": f"{rng.randrange(40, 2000)}.00",
            "mc_pct": rng.uniform(6, 40),
            "checked_on": str(TODAY - timedelta(days=rng.randrange(90))),
            "latest_check_id": key * CHECKS_EACH,
            "condition": rng.choice(("green", "drying", "drying", "resting", "ready", "unknown")),
            "standing": standing,
            "gone_how": "sold" if standing == "gone" else "",
            "cover_id": (key - 1) * PHOTOS_EACH + 1,
        }

    def _photo(self, slab: int, number: int) -> dict[str, Any]:
        names = {size: f"photos/2026/05/{slab}-{number}-{size}.webp" for size in _SIZES}
        return {
            **names,
            "id": (slab - 1) * PHOTOS_EACH + number + 1,
            "slab_id": slab,
            "position": number,
            "width_px": 4000,
            "height_px": 1800,
            "sha256": f"{slab:032x}{number:032x}",
            "at": _moment(TODAY),
        }

    def _checks(self, slab: int) -> Iterator[dict[str, Any]]:
        for number in range(CHECKS_EACH):
            day = TODAY - timedelta(days=30 * (CHECKS_EACH - number))
            mean = self.rng.uniform(6, 40)
            yield {
                "id": (slab - 1) * CHECKS_EACH + number + 1,
                "slab_id": slab,
                "on": str(day),
                "at": _moment(day),
                "mean_pct": mean,
                "max_pct": mean + 1,
                "min_pct": mean - 1,
                "places": READINGS_EACH,
            }

    def _readings(self, slab: int) -> Iterator[dict[str, Any]]:
        for check in range((slab - 1) * CHECKS_EACH + 1, slab * CHECKS_EACH + 1):
            for position in range(READINGS_EACH):
                value = self.rng.uniform(6, 40)
                yield {
                    "id": (check - 1) * READINGS_EACH + position + 1,
                    "moisture_check_id": check,
                    "position": position,
                    "along": position / READINGS_EACH,
                    "depth_mm": 12.0,
                    "raw_pct": value,
                    "corrected_pct": value,
                }


_SIZES = ("master", "grid", "page", "zoom")


def _place(key: int) -> dict[str, Any]:
    return {"id": key, "name": f"Place {key}", "kind": "shed", "position": key}


def _parcel(key: int) -> dict[str, Any]:
    supplier = f"Supplier {key % 20}"
    return {"id": key, "name": f"Parcel {key}", "supplier": supplier, "bought_on": str(TODAY)}


def _moment(day: date) -> str:
    return f"{day} 09:00:00"


def _default(field: "models.Field[Any, Any]") -> Any:
    if field.has_default():
        value = field.get_default()
        return json.dumps(value) if isinstance(value, list) else value
    return "" if field.empty_strings_allowed and not field.null else None
