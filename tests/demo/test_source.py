import csv
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.demo.look import SourceError, load_looks
from inventory.demo.shape import widths_at
from inventory.demo.source import load_source
from inventory.demo.yard import DemoSource, Log

ROOT = Path(__file__).parents[2]
FIXTURES = ROOT / "fixtures"


@pytest.fixture(scope="module")
def source() -> DemoSource:
    return load_source(FIXTURES)


@pytest.fixture
def changed(tmp_path: Path) -> "Changer":
    return Changer(tmp_path)


class Changer:
    """A copy of the fixtures in which one piece of text is replaced before loading."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("yard.toml", "species_looks.toml"):
            text = (FIXTURES / name).read_text(encoding="utf-8")
            (folder / name).write_text(text, encoding="utf-8")

    def load(self, old: str, new: str, name: str = "yard.toml") -> DemoSource:
        text = (self.folder / name).read_text(encoding="utf-8")
        assert old in text, f"the fixture no longer says {old!r}"
        (self.folder / name).write_text(text.replace(old, new, 1), encoding="utf-8")
        return load_source(self.folder)


def test_every_look_is_of_a_species_in_the_table_under_the_same_botanical_name() -> None:
    table = ROOT / "inventory" / "wood" / "species.csv"
    with table.open(encoding="utf-8", newline="") as lines:
        botanical = {row["common_name"]: row["botanical_name"] for row in csv.DictReader(lines)}
    looks = load_looks(FIXTURES / "species_looks.toml")
    assert {name: look.botanical_name for name, look in looks.items()} == {
        name: botanical.get(name) for name in looks
    }


def test_there_are_forty_logs_of_twenty_or_more_species(source: DemoSource) -> None:
    assert len(source.logs) == 40
    assert len({log.species for log in source.logs}) >= 20


def test_there_are_about_four_hundred_slabs_five_to_sixteen_a_log(source: DemoSource) -> None:
    counts = [len(log.thicknesses_mm) for log in source.logs]
    assert 380 <= sum(counts) <= 440
    assert min(counts) >= 5
    assert max(counts) <= 16


def test_there_are_six_commissions_no_two_of_one_client_or_shape(source: DemoSource) -> None:
    assert len(source.commissions) == 6
    assert len({wish.client for wish in source.commissions}) == 6
    assert len({(wish.top, wish.method) for wish in source.commissions}) == 6


def test_every_role_and_kind_of_place_is_there(source: DemoSource) -> None:
    assert {person.role for person in source.people} == {"owner", "worker", "buyer"}
    kinds = {place.kind for place in source.places}
    assert kinds == {"yard", "shed", "kiln", "conditioning", "shop", "showroom"}
    assert all(4 <= len(place.bays) <= 8 for place in source.places)


def test_bays_have_names_of_their_own(source: DemoSource) -> None:
    bays = [bay for place in source.places for bay in place.bays]
    assert len(bays) == len(set(bays))


def test_parcels_spread_over_three_years(source: DemoSource) -> None:
    bought = [parcel.bought_days_ago for parcel in source.parcels]
    assert len(bought) == 12
    assert max(bought) > 1000
    assert min(bought) < 60


def test_logs_are_felled_bought_and_sawn_in_a_sensible_order(source: DemoSource) -> None:
    bought = {parcel.code: parcel.bought_days_ago for parcel in source.parcels}
    for log in source.logs:
        assert log.felled_days_ago >= bought[log.parcel] >= log.sawn_days_ago


def test_every_log_yields_the_slabs_it_lists(source: DemoSource) -> None:
    for log in source.logs:
        assert [shape.thickness_mm for shape in log.slabs()] == list(log.thicknesses_mm)


def longest_and_widest(log: Log) -> tuple[float, float]:
    return log.shape.length_mm, max(min(widths_at(shape)) for shape in log.slabs())


def test_each_commission_has_wood_long_and_wide_enough(source: DemoSource) -> None:
    """One slab must take the whole top; of a pair, each takes half (resin fills the rest)."""
    for wish in source.commissions:
        need_mm = wish.width_mm if wish.method == "one_slab" else wish.width_mm / 2
        able = [
            log.code
            for log in source.logs
            if log.species in wish.species
            and longest_and_widest(log) > (wish.length_mm, 0)
            and longest_and_widest(log)[1] > need_mm
        ]
        assert able, wish.title


def test_money_is_exact(source: DemoSource) -> None:
    with (FIXTURES / "yard.toml").open("rb") as file:
        written = tomllib.load(file)["parcels"]
    for parcel, row in zip(source.parcels, written, strict=True):
        assert str(parcel.sawing_cost) == row["sawing_cost"]
        assert isinstance(parcel.timber_cost, Decimal)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('role = "owner"', 'role = "king"', "people: maren: role 'king' is not one of"),
        ("diameter_mm = 880", 'diameter_mm = "wide"', "logs: LG-01: diameter_mm must be a number"),
        ("diameter_mm = 880", "diameter_mm = 500", "LG-01: its slabs take .* too much"),
        ('parcel = "P-01"', 'parcel = "P-99"', "parcel 'P-99' is not listed"),
        ('species = "Oak, pedunculate"', 'species = "Oak, purple"', "species 'Oak, purple'"),
        ('code = "LG-02"', 'code = "LG-01"', "logs: LG-01 is listed 2 times"),
        ("crotch = false", "crotch = 0", "crotch must be true or false"),
        ("width_mm = 640", "width_mm = 600", "a round top is as wide as it is long"),
        ("slabs = [3, 4]", "slabs = [3, 44]", "LG-19 has no slab 44"),
        ("slabs = [3, 4]", "slabs = [3, 3]", "LG-19 slab 3 is listed 2 times"),
        ("bought_days_ago = 1088", "", "parcels: P-01: bought_days_ago is missing"),
        ("[workshop]", "[workshop", "yard.toml cannot be read"),
        ('budget = "5200.00"', 'budget = "lots"', "budget must be an amount"),
        ("felled_days_ago = ", "felled_days_ago = 1\n# ", "sawn before it was felled"),
    ],
)
def test_a_slip_in_the_yard_is_refused_by_name(
    changed: Changer, old: str, new: str, says: str
) -> None:
    with pytest.raises(SourceError, match=says):
        changed.load(old, new)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"#6e4f3a"', '"brown"', "Walnut, black: 'brown' is not a colour"),
        ('porosity = "semi-ring"', 'porosity = "holey"', "not a kind of porosity"),
        ('figures = ["plain"', 'figures = ["stripy"', "unknown figure stripy"),
        ('asking_per_bf = "17.50"', "", "Walnut, black: asking_per_bf is missing"),
        ("ring_mm = 5.0", "ring_mm = 0", "must be positive"),
    ],
)
def test_a_slip_in_a_look_is_refused_by_name(
    changed: Changer, old: str, new: str, says: str
) -> None:
    with pytest.raises(SourceError, match=says):
        changed.load(old, new, "species_looks.toml")


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match=r"yard\.toml is not in"):
        load_source(tmp_path)
