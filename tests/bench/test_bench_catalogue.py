"""The browse page's SQL through Django against the very same SQL through bare sqlite3.

100,000 slabs with 3 pictures' rows and 12 readings each (tests/bench/yard.py). For each way of
asking, the statements that `browsing.look` sends (every group's counts, the page's keys, its 24
slabs) are captured once; then the two take turns in one run and medians are compared. Run with
`-m bench`. The yard is made anew unless WANEYARD_BENCH_YARD names a file to keep it in.
"""

import os
import sqlite3
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.db import connections
from django.db.backends.sqlite3.base import DatabaseWrapper
from django.http import QueryDict
from pytest_django import DjangoDbBlocker

from catalogue import browsing
from inventory.viewer import Viewer
from tests.bench.yard import SQLITE, make_yard, yard_as_default

ROUNDS = 9
ADDRESSES = {
    "as it opens": "",
    "one species, drying": "species=1&condition=drying",
    "sizes and price": "length=2000+mm&width=700+mm&thickness=50+mm&price_to=2000",
    "figure, flat-sawn, readiest": "figure=burl&figure=curl&sawn=flat&sort=readiest",
    "the tenth page by price": "sort=cheapest&page=10",
    "words": "q=walnut+wane",
    "a word on most slabs": "q=wane",
    "a word on one in twelve": "q=burl",
}
Statement = tuple[str, tuple[Any, ...]]


@pytest.fixture(scope="module")
def yard(
    tmp_path_factory: pytest.TempPathFactory, django_db_blocker: DjangoDbBlocker
) -> Iterator[DatabaseWrapper]:
    kept = os.environ.get("WANEYARD_BENCH_YARD")
    path = Path(kept) if kept else tmp_path_factory.mktemp("yard") / "yard.sqlite3"
    with django_db_blocker.unblock():
        if not path.exists():
            make_yard(path)
        with yard_as_default(path) as connection:
            yield connection


def viewer() -> Viewer:
    """Somebody of the house, without a row of their own to be asked for."""

    class Passing(AnonymousUser):
        is_authenticated = True  # type: ignore[assignment]

        def get_all_permissions(self, obj: Any = None) -> set[str]:
            return {"inventory.see_cost"}

    return Viewer(Passing(), system="metric")


def captured(work: Callable[[], object]) -> list[Statement]:
    statements: list[Statement] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        statements.append((sql.replace("%s", "?"), tuple(params or ())))
        return execute(sql, params, many, context)

    with connections["default"].execute_wrapper(note):
        work()
    return statements


def run_bare(bare: sqlite3.Connection, statements: list[Statement]) -> None:
    for sql, params in statements:
        bare.execute(sql, params).fetchall()


def plans(bare: sqlite3.Connection, statements: list[Statement]) -> Iterator[str]:
    for sql, params in statements:
        for *_, detail in bare.execute(f"EXPLAIN QUERY PLAN {sql}", params):
            if "inventory_slab" in detail or "TEMP B-TREE" in detail:
                yield detail


def milliseconds(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return (perf_counter() - start) * 1000


@pytest.mark.bench
@pytest.mark.parametrize("name", ADDRESSES)
def test_browse_sql_against_bare_sqlite(
    name: str, yard: DatabaseWrapper, capsys: pytest.CaptureFixture[str]
) -> None:
    data, looking = QueryDict(ADDRESSES[name]), viewer()

    def look() -> browsing.Browse:
        return browsing.look(data, looking)

    shown, statements = look(), captured(look)
    bare = sqlite3.connect(yard.settings_dict["NAME"])
    for pragma in SQLITE["init_command"].split(";"):
        bare.execute(pragma)
    ours, floor = [], []
    for _ in range(ROUNDS):
        ours.append(milliseconds(look))
        floor.append(milliseconds(lambda: run_bare(bare, statements)))
    with capsys.disabled():
        sys.stdout.write(
            f"\nbrowse, {name}: {shown.total:,} slabs, {len(statements)} statements, "
            f"{median(ours):.1f} ms, bare sqlite3 {median(floor):.1f} ms, "
            f"ratio {median(ours) / median(floor):.2f}\n"
        )
        if os.environ.get("WANEYARD_BENCH_PLANS"):
            sys.stdout.write("".join(f"    {line}\n" for line in plans(bare, statements)))
    bare.close()
    assert len(shown.cards) == min(24, shown.total)
