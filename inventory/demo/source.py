"""Read the demo yard's source data, `fixtures/yard.toml`, into typed records.

Every refusal is a SourceError that names the row and says what is wrong with it:
a value of the wrong kind, a name that stands for nothing, slabs that do not fit.
"""

import tomllib
from collections import Counter
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

from inventory.demo.look import FIGURES, SourceError, load_looks
from inventory.demo.row import Row, rows_of
from inventory.demo.shape import KERF_MM, MAX_STACK_SHARE, LogShape
from inventory.demo.yard import (
    ENDS,
    HOLD_KINDS,
    METER_METHODS,
    METHODS,
    PLACE_KINDS,
    ROLES,
    STAGE_KINDS,
    TOP_SHAPES,
    BlockTest,
    Charge,
    Client,
    Climate,
    Commission,
    DemoSource,
    Gone,
    Hold,
    Log,
    Meter,
    OwnTable,
    Parcel,
    Person,
    Place,
    Stage,
    Workshop,
)


def load_source(path: Path) -> DemoSource:
    """Read a folder holding `yard.toml` and `species_looks.toml`.

    Raises SourceError, with the row and the reason, when anything cannot be used.
    """
    tables = _tables(path / "yard.toml")
    source = DemoSource(
        workshop=_workshop(Row(tables.get("workshop", {}), "workshop")),
        people=tuple(map(_person, rows_of(tables, "people"))),
        places=tuple(map(_place, rows_of(tables, "places"))),
        meters=tuple(map(_meter, rows_of(tables, "meters"))),
        parcels=tuple(map(_parcel, rows_of(tables, "parcels"))),
        logs=tuple(map(_log, rows_of(tables, "logs"))),
        clients=tuple(map(_client, rows_of(tables, "clients"))),
        commissions=tuple(map(_commission, rows_of(tables, "commissions"))),
        holds=tuple(map(_hold, rows_of(tables, "holds"))),
        gone=tuple(map(_gone, rows_of(tables, "gone"))),
        charges=tuple(map(_charge, rows_of(tables, "charges"))),
        block_tests=tuple(map(_block_test, rows_of(tables, "block_tests"))),
        own_tables=tuple(map(_own_table, rows_of(tables, "own_tables"))),
        looks=load_looks(path / "species_looks.toml"),
    )
    _check(source)
    return source


def _tables(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise SourceError(f"{path.name} is not in {path.parent.name}.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as wrong:
        raise SourceError(f"{path.name} cannot be read: {wrong}") from None


# --- one row each ------------------------------------------------------------------


def _workshop(row: Row) -> Workshop:
    return Workshop(row.text("name"), row.text("place"), row.text("address"), row.text("about"))


def _person(row: Row) -> Person:
    return Person(row.text("user_name"), row.text("full_name"), row.one_of("role", ROLES))


def _place(row: Row) -> Place:
    return Place(
        name=row.text("name"),
        kind=row.one_of("kind", PLACE_KINDS),
        bays=row.texts("bays"),
        climate=_climate(Row(row.raw("climate"), f"{row.where}, climate")),
    )


def _climate(row: Row) -> Climate:
    return Climate(
        temp_mean_c=row.number("temp_mean_c", -20, 90),
        temp_season_c=row.number("temp_season_c", -30, 30),
        temp_day_c=row.number("temp_day_c", -20, 20),
        temp_noise_c=row.number("temp_noise_c", 0, 15),
        rh_mean_pct=row.number("rh_mean_pct", 5, 98),
        rh_season_pct=row.number("rh_season_pct", -40, 40),
        rh_day_pct=row.number("rh_day_pct", -40, 40),
        rh_noise_pct=row.number("rh_noise_pct", 0, 25),
    )


def _meter(row: Row) -> Meter:
    return Meter(
        name=row.text("name"),
        method=row.one_of("method", METER_METHODS),
        reads_from_pct=row.number("reads_from_pct", 0, 200),
        reads_to_pct=row.number("reads_to_pct", 0, 200),
        corrects=row.texts("corrects"),
        note=row.text("note"),
    )


def _charge(row: Row) -> Charge:
    heated = row.whole("heated_days_ago") if "heated_days_ago" in row.values else None
    return Charge(row.text("name"), row.text("place"), row.texts("logs"), heated, row.text("note"))


def _block_test(row: Row) -> BlockTest:
    return BlockTest(
        meter=row.text("meter"),
        days_ago=row.whole("days_ago"),
        block_pct=row.number("block_pct", 0, 100),
        read_pct=row.number("read_pct", 0, 100),
        due_in_days=row.whole("due_in_days", -10_000),
    )


def _own_table(row: Row) -> OwnTable:
    readings, corrected = (row.numbers(key, 0, 300) for key in ("readings_pct", "corrected_pct"))
    if len(readings) != len(corrected):
        raise row.refuse("each reading wants what it stands for")
    return OwnTable(row.text("meter"), row.text("species"), readings, corrected)


def _parcel(row: Row) -> Parcel:
    return Parcel(
        code=row.text("code"),
        supplier=row.text("supplier"),
        bought_days_ago=row.whole("bought_days_ago"),
        timber_cost=row.money("timber_cost"),
        sawing_cost=row.money("sawing_cost"),
        haulage_cost=row.money("haulage_cost"),
        drying_cost=row.money("drying_cost"),
        note=row.text("note"),
    )


def _log(row: Row) -> Log:
    return Log(
        code=row.text("code"),
        species=row.text("species"),
        parcel=row.text("parcel"),
        shape=_log_shape(row),
        thicknesses_mm=row.numbers("thicknesses_mm", 15, 200),
        figure=row.texts("figure"),
        faults=row.texts("faults"),
        felled_days_ago=row.whole("felled_days_ago"),
        sawn_days_ago=row.whole("sawn_days_ago"),
        stages=tuple(map(_stage, row.rows("stages"))),
    )


def _log_shape(row: Row) -> LogShape:
    return LogShape(
        seed=row.whole("seed"),
        length_mm=row.number("length_mm", 300, 8000),
        diameter_mm=row.number("diameter_mm", 150, 2500),
        taper=row.number("taper", 0, 0.5),
        waviness=row.number("waviness", 0, 0.3),
        crook_mm=row.number("crook_mm", 0, 200),
        crotch=row.yes("crotch"),
    )


def _stage(row: Row) -> Stage:
    return Stage(row.one_of("kind", STAGE_KINDS), row.text("place"), row.whole("from_days_ago"))


def _client(row: Row) -> Client:
    return Client(row.text("name"), row.text("place"), row.text("note"))


def _commission(row: Row) -> Commission:
    return Commission(
        title=row.text("title"),
        client=row.text("client"),
        top=row.one_of("top", TOP_SHAPES),
        length_mm=row.number("length_mm", 100, 8000),
        width_mm=row.number("width_mm", 100, 3000),
        thickness_mm=row.number("thickness_mm", 10, 150),
        method=row.one_of("method", METHODS),
        species=row.texts("species"),
        budget=row.money("budget"),
        asked_days_ago=row.whole("asked_days_ago"),
        starts_in_days=row.whole("starts_in_days"),
        home_temp_c=row.number("home_temp_c", -40, 60),
        home_rh_pct=row.number("home_rh_pct", 1, 99),
        note=row.text("note"),
    )


def _slab_numbers(row: Row) -> tuple[int, ...]:
    return tuple(int(number) for number in row.numbers("slabs", 1, 99))


def _hold(row: Row) -> Hold:
    kind = row.one_of("kind", HOLD_KINDS)
    return Hold(
        log=row.text("log"),
        slabs=_slab_numbers(row),
        commission=row.text("commission"),
        kind=kind,
        made_days_ago=row.whole("made_days_ago"),
        until_in_days=row.whole("until_in_days", least=-1_000) if kind == "held" else None,
    )


def _gone(row: Row) -> Gone:
    return Gone(
        log=row.text("log"),
        slabs=_slab_numbers(row),
        how=row.one_of("how", ENDS),
        days_ago=row.whole("days_ago"),
        note=row.text("note"),
    )


# --- rows against each other ---------------------------------------------------------


def _check(source: DemoSource) -> None:
    _check_unique("people", (person.user_name for person in source.people))
    _check_unique("places", (place.name for place in source.places))
    _check_unique("parcels", (parcel.code for parcel in source.parcels))
    _check_unique("logs", (log.code for log in source.logs))
    _check_unique("logs' seeds", (str(log.shape.seed) for log in source.logs))
    for log in source.logs:
        _check_log(log, source)
    _check_charges(source)
    _check_commissions(source)
    _check_promises(source)


def _check_unique(what: str, names: Iterable[str]) -> None:
    for name, times in Counter(names).items():
        if times > 1:
            raise SourceError(f"{what}: {name} is listed {times} times.")


def _known(name: str, names: Iterable[str], where: str, what: str) -> None:
    if name not in set(names):
        raise SourceError(f"{where}: {what} {name!r} is not listed.")


def _check_log(log: Log, source: DemoSource) -> None:
    where = f"logs: {log.code}"
    _known(log.species, source.looks, where, "species")
    _known(log.parcel, (parcel.code for parcel in source.parcels), where, "parcel")
    for figure in log.figure:
        _known(figure, FIGURES, where, "figure")
    for stage in log.stages:
        _known(stage.place, (place.name for place in source.places), where, "place")
    stack_mm = sum(thickness + KERF_MM for thickness in log.thicknesses_mm)
    if stack_mm > MAX_STACK_SHARE * log.shape.diameter_mm:
        raise SourceError(
            f"{where}: its slabs take {stack_mm:.0f} mm, too much for a log "
            f"{log.shape.diameter_mm:.0f} mm across."
        )
    _check_order(log, where)


def _check_order(log: Log, where: str) -> None:
    """Felled, then sawn, then through its stages, each later than the one before."""
    days = [log.felled_days_ago, log.sawn_days_ago]
    if days[0] < days[1]:
        raise SourceError(f"{where}: it was sawn before it was felled.")
    starts = [stage.from_days_ago for stage in log.stages]
    if not starts or starts[0] > log.sawn_days_ago:
        raise SourceError(f"{where}: its first stage must begin on or after the day it was sawn.")
    if any(later >= earlier for earlier, later in pairwise(starts)):
        raise SourceError(f"{where}: its stages must each begin after the one before.")


def _check_charges(source: DemoSource) -> None:
    """Every log of a charge lay in its place; meters and species of tests and tables exist."""
    stages = {(log.code, stage.place) for log in source.logs for stage in log.stages}
    for charge in source.charges:
        for code in charge.logs:
            if (code, charge.place) not in stages:
                raise SourceError(f"charges: {charge.name}: {code} was never in {charge.place}.")
    meters = [meter.name for meter in source.meters]
    for test in source.block_tests:
        _known(test.meter, meters, "block_tests", "meter")
    for table in source.own_tables:
        _known(table.meter, meters, "own_tables", "meter")
        _known(table.species, source.looks, f"own_tables: {table.meter}", "species")


def _check_commissions(source: DemoSource) -> None:
    _check_unique("commissions", (wish.title for wish in source.commissions))
    for wish in source.commissions:
        where = f"commissions: {wish.title}"
        _known(wish.client, (client.name for client in source.clients), where, "client")
        for species in wish.species:
            _known(species, source.looks, where, "species")
        if wish.top == "round" and wish.length_mm != wish.width_mm:
            raise SourceError(f"{where}: a round top is as wide as it is long.")


def _check_promises(source: DemoSource) -> None:
    """Held and gone slabs exist, and none is promised or gone twice."""
    counts = {log.code: len(log.thicknesses_mm) for log in source.logs}
    titles = {wish.title for wish in source.commissions}
    for hold in source.holds:
        _known(hold.commission, titles, f"holds: {hold.log}", "commission")
    taken: list[str] = []
    entries: list[Hold | Gone] = [*source.holds, *source.gone]
    for entry in entries:
        _known(entry.log, counts, "holds and gone", "log")
        for slab in entry.slabs:
            if slab > counts[entry.log]:
                raise SourceError(f"{entry.log} has no slab {slab}.")
            taken.append(f"{entry.log} slab {slab}")
    _check_unique("holds and gone", taken)
