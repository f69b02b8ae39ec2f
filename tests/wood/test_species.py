"""The species table is read whole, and each row can be told apart."""

from __future__ import annotations

import csv
import re

from inventory.wood.species import TABLE, key_for, published_species, species_by_key


def test_every_row_of_the_file_is_there_in_order() -> None:
    with TABLE.open(encoding="utf-8", newline="") as lines:
        names = [row["common_name"] for row in csv.DictReader(lines)]
    assert [row.common_name for row in published_species()] == names
    assert len(names) == 129


def test_keys_are_unique_and_fit_a_web_address() -> None:
    assert len(species_by_key()) == len(published_species())
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", row.slug) for row in published_species())


def test_a_key_is_made_of_the_common_name() -> None:
    assert key_for("Maple, sugar") == "maple-sugar"
    assert key_for("  Épicéa (Norway) ") == "epicea-norway"


def test_numbers_are_numbers_and_empty_cells_are_none() -> None:
    walnut, mesquite = species_by_key()["walnut-black"], species_by_key()["mesquite-honey"]
    assert (walnut.sg_green, walnut.sg_12, walnut.cr, walnut.ct) == (0.51, 0.55, 0.0019, 0.00274)
    assert mesquite.sg_12 is None
    assert mesquite.cr is None


def test_every_row_has_a_specific_gravity_and_says_its_source() -> None:
    for row in published_species():
        assert row.sg_green is not None
        assert 0.2 < row.sg_green < 1.3
        assert row.source
        assert row.origin in ("source", "memory", "mixed")


def test_the_table_is_read_once() -> None:
    assert published_species() is published_species()
