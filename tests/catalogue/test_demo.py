"""The demo yard: all of it or nothing, once, the same from one seed, and true to the record."""

from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from io import StringIO
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import shapely
import time_machine
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import transaction
from django.test import Client
from PIL import Image
from shapely import Polygon

from catalogue import serving
from catalogue.demo import courses, kilns, loading, mark, pictures, studio
from catalogue.demo.studio import Drawn, Sitter, Stack
from catalogue.models import Commission
from inventory import boards, charge_page, charges
from inventory.demo.source import load_source
from inventory.models import (
    Alert,
    AlertKind,
    Charge,
    Condition,
    Hold,
    HoldEnd,
    LedgerEntry,
    LedgerKind,
    Log,
    MeterTable,
    MoistureCheck,
    Outline,
    Person,
    Photo,
    Reading,
    SampleBoard,
    Slab,
    Standing,
)
from inventory.photos.scale import from_record
from inventory.weighing import side_by_side
from tests.factories import make_slab

NOW = datetime(2026, 7, 20, 9, 30, tzinfo=UTC)

pytestmark = [pytest.mark.django_db]


@pytest.fixture(autouse=True)
def _a_summer_morning() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def airless(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the air records, most of what a small yard takes to load."""
    monkeypatch.setitem(loading._RECORD, "Writing down the air", lambda yard, air: None)


@pytest.fixture
def bare(airless: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command without what it does to files, and without pictures."""
    monkeypatch.setattr(serving, "prepare", lambda say: None)
    monkeypatch.setattr(loading, "load", partial(loading.load, draw=None))


def demo(*args: str) -> str:
    out = StringIO()
    call_command("demo", "--no-serve", *args, stdout=out)
    return out.getvalue()


def here(stacks: Sequence[Stack]) -> AbstractContextManager[Iterator[Drawn]]:
    """Pictures of the first slab of every log, drawn in this process."""
    return studio.drawing([stack[:1] for stack in stacks], processes=1)


def firsts(stacks: Sequence[Stack]) -> AbstractContextManager[Iterator[Drawn]]:
    """The face alone of the first two slabs of every log."""
    some = [[replace(sitter, roles=("face_dry",)) for sitter in stack[:2]] for stack in stacks]
    return studio.drawing(some, processes=1)


def agreed() -> None:
    call_command("rederive", "--check", stdout=StringIO())


# --- the whole of it -------------------------------------------------------------------


def test_the_whole_yard_is_as_large_and_as_varied_as_it_says() -> None:
    yard = loading.load(NOW, draw=None)
    assert 380 <= Slab.objects.count() <= 440
    assert Log.objects.count() == 40
    assert Slab.objects.values("species").distinct().count() >= 20
    assert Commission.objects.count() == 6
    found = Slab.objects.in_stock().values_list("condition", flat=True)
    assert set(found) == set(Condition.values)
    assert set(Slab.objects.values_list("standing", flat=True)) == set(Standing.values)
    assert Commission.objects.without_wood().count() == 4
    assert Hold.objects.lapsing_by(yard.clock.day(-3)).count() == 2
    assert Hold.objects.filter(ended_how=HoldEnd.LAPSED).count() == 2
    assert MoistureCheck.objects.filter(supersedes__isnull=False).count() == 2
    assert_kiln_and_scale_are_told()
    agreed()


def assert_kiln_and_scale_are_told() -> None:
    """One charge ended, dried and taken hot; one that runs; a scale, a board and tested meters."""
    running, ended = Charge.objects.latest_first()
    assert (running.is_running, ended.is_running) == (True, False)
    page = charge_page.look(ended, NOW, "metric")
    assert page.air is not None
    assert page.core is not None
    assert page.core.heat.is_held
    assert [probe.name for probe in page.core.probes] == [name for name, _ in kilns.PROBES]
    assert all(stay.lost_pct is not None and stay.lost_pct > 3.0 for stay in page.stays)
    assert not any(stay.is_inside for stay in page.stays)
    assert {stay.row.left_on for stay in charges.stays_of(running)} == {None}
    weighed = MoistureCheck.objects.filter(weighing__isnull=False).select_related("slab")
    assert len(weighed) == 3
    for check in weighed:
        side = side_by_side(check.slab, check.on)
        assert side is not None
        assert abs((side.weighed.mean_pct or 0) - (side.metered.mean_pct or 0)) < 1.5
    course = boards.course_of(boards.with_course(SampleBoard.objects.all()).get())
    assert len(course.weights) >= 1
    assert course.latest_pct is not None
    assert MeterTable.objects.count() == 1
    assert Alert.objects.open().filter(kind=AlertKind.METER_DUE).count() == 1


# --- a few logs ------------------------------------------------------------------------


def test_a_small_yard_has_promised_and_green_wood_and_every_stored_result_agrees() -> None:
    loading.load(NOW, logs=4, draw=here)
    assert Log.objects.count() == 4
    standings = set(Slab.objects.values_list("standing", flat=True))
    assert standings >= {Standing.FREE, Standing.HELD, Standing.ALLOTTED}
    assert Slab.objects.filter(condition=Condition.GREEN).exists()
    assert Photo.objects.filter(slab__cover__isnull=False).exists()
    agreed()


def test_outlines_are_traced_along_the_wood_that_the_pictures_show() -> None:
    loading.load(NOW, logs=6, draw=firsts)
    traced = Outline.objects.select_related("slab", "photo")
    assert traced.count() >= 3
    for outline in traced:
        assert outline.photo is not None
        assert outline.photo.slab_id == outline.slab_id
        scale = from_record(outline.scale)
        with outline.photo.master.open("rb") as opened:
            pixels = np.asarray(Image.open(opened).convert("RGB"), dtype=float)
        traced_px = scale.px(outline.traced)
        assert abs(_step_across(pixels, traced_px)) > 12.0
        length = float(np.ptp(np.array(outline.ring)[:, 0]))
        assert length == pytest.approx(outline.slab.length_mm, rel=0.05)
    bases = set(Slab.objects.values_list("shape_basis", flat=True))
    assert {"traced", "widths"} <= bases
    assert LedgerEntry.objects.filter(kind=LedgerKind.OUTLINED).count() == traced.count()
    agreed()


def _step_across(pixels: Any, ring_px: Any) -> float:
    """How much the picture changes over the line: a little inside it against a little outside."""
    inside = shapely.get_coordinates(Polygon(ring_px).buffer(-7.0).exterior)
    outside = shapely.get_coordinates(Polygon(ring_px).buffer(16.0).exterior)
    means = []
    for ring in (inside, outside):
        columns, rows = np.clip(ring.round().astype(int), 0, np.array(pixels.shape[1::-1]) - 1).T
        means.append(pixels[rows, columns].mean())
    return float(means[0] - means[1])


def everything_seen() -> list[Any]:
    return [
        list(Slab.objects.order_by("log__number", "number_in_log").values_list("code", "widths")),
        list(Slab.objects.order_by("code").values_list("asking_price", "house_note", "cost")),
        sorted(Reading.objects.values_list("moisture_check__slab__code", "raw_pct", "position")),
        sorted(Photo.objects.values_list("slab__code", "role", "sha256", "page")),
        sorted(LedgerEntry.objects.values_list("slab__code", "at", "kind", "before", "after")),
        sorted(Outline.objects.values_list("slab__code", "side", "bark_mm", "corrected_points")),
    ]


@pytest.mark.usefixtures("airless")
def test_the_same_day_gives_the_same_codes_readings_and_pictures_again() -> None:
    seen = []
    for _ in range(2):
        with transaction.atomic():
            loading.load(NOW, logs=2, draw=here)
            seen.append(everything_seen())
            transaction.set_rollback(True)
    assert seen[0] == seen[1]
    assert len(seen[0][3]) >= 2


@pytest.mark.usefixtures("airless")
def test_another_seed_gives_other_codes() -> None:
    codes = []
    for seed in (1, 2):
        with transaction.atomic():
            yard = loading.load(NOW, logs=1, draw=None, seed=seed)
            codes.append({piece.slab.code for piece in yard.pieces})
            transaction.set_rollback(True)
    assert not codes[0] & codes[1]


@pytest.mark.usefixtures("airless")
def test_the_ledger_of_a_slab_tells_its_course_in_order_and_nothing_lies_ahead() -> None:
    loading.load(NOW, logs=4, draw=None)
    assert not LedgerEntry.objects.filter(at__gt=NOW).exists()
    sold = LedgerEntry.objects.filter(kind=LedgerKind.ALLOTTED).order_by("pk").last()
    assert sold is not None
    kinds = [entry.kind for entry in sold.slab.ledger.order_by("at", "pk")]
    assert kinds[:2] == [LedgerKind.RECEIVED, LedgerKind.STAGE]
    assert kinds.index(LedgerKind.MEASURED) < kinds.index(LedgerKind.ALLOTTED)
    firsts = [entry.after for entry in sold.slab.ledger.filter(kind=LedgerKind.MEASURED)]
    assert all(words.startswith("Moisture ") for words in firsts)


@pytest.mark.usefixtures("airless")
def test_each_entry_of_a_check_tells_the_check_before_it() -> None:
    yard = loading.load(NOW, logs=1, draw=None)
    slab = yard.pieces[4].slab
    entries = list(slab.ledger.filter(kind=LedgerKind.MEASURED).order_by("at", "pk"))
    for before, after in pairwise(entries):
        mean, day = before.after.split(" at ")[0], before.after.rsplit(" on ", 1)[1]
        assert after.before == f"{mean} on {day}"


# --- the command -----------------------------------------------------------------------


@pytest.mark.usefixtures("bare")
def test_the_command_says_who_can_sign_in_and_they_can() -> None:
    said = demo("--logs", "1")
    for person in Person.objects.all():
        assert person.username in said
        assert person.called in said
        assert person.groups.get().name in said
    assert mark.PASSWORD in said
    data = {"username": "dilys", "password": mark.PASSWORD}
    assert Client().post("/sign-in/", data).status_code == 302


@pytest.mark.usefixtures("bare")
def test_run_again_it_changes_nothing() -> None:
    demo("--logs", "1")
    slab = Slab.objects.order_by("code")[0]
    Slab.objects.filter(pk=slab.pk).update(client_note="Mine")
    before = everything_seen()
    said = demo("--logs", "1")
    assert everything_seen() == before
    assert "made up in" not in said


@pytest.mark.usefixtures("bare")
def test_an_old_yard_says_how_to_get_a_fresh_one() -> None:
    demo("--logs", "1")
    with time_machine.travel(datetime(2026, 9, 1, tzinfo=UTC)):
        assert "For a fresh one" in demo()


@pytest.mark.usefixtures("bare")
def test_it_refuses_another_yard_in_a_sentence() -> None:
    make_slab()
    with pytest.raises(CommandError, match="belongs to another yard"):
        demo()
    assert Slab.objects.count() == 1
    assert not Person.objects.filter(username="maren").exists()


@pytest.mark.usefixtures("bare")
def test_a_load_that_is_stopped_keeps_nothing_and_starts_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def stopped(yard: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(courses, "load_gone", stopped)
        with pytest.raises(CommandError, match="Stopped: nothing was kept"):
            demo("--logs", "1")
    assert not Slab.objects.exists()
    assert not Person.objects.exists()
    demo("--logs", "1")
    assert mark.is_loaded()


@pytest.mark.usefixtures("bare")
def test_it_listens_on_this_machine_alone_unless_told(monkeypatch: pytest.MonkeyPatch) -> None:
    served: list[tuple[str, int]] = []
    monkeypatch.setattr(serving, "serve", lambda host, port: served.append((host, port)))
    monkeypatch.setattr(serving, "free_port", lambda host, port: port)
    out = StringIO()
    call_command("demo", "--logs", "1", stdout=out)
    assert served == [("127.0.0.1", 8000)]
    assert "http://localhost:8000/" in out.getvalue()


# --- pictures --------------------------------------------------------------------------


def two_slabs() -> list[Stack]:
    source = load_source(mark.FIXTURES)
    log = source.logs[0]
    roles = ("face_dry", "edge")
    look = source.looks[log.species]
    sitters = [
        Sitter(key, shape, look, frozenset(log.figure), roles)
        for key, shape in enumerate(log.slabs()[:2])
    ]
    return [sitters[:1], sitters[1:]]


def digests(drawn: Iterator[Drawn]) -> set[tuple[int, str, str]]:
    return {(one.key, one.role, one.intake.sha256) for one in drawn}


def test_processes_of_their_own_draw_what_this_one_draws() -> None:
    stacks = two_slabs()
    with studio.drawing(stacks, processes=1) as drawn:
        expected = digests(drawn)
    with studio.drawing(stacks, processes=2) as drawn:
        assert digests(drawn) == expected


class OneTaskPool:
    """A pool whose processes are ended by the system after the first task."""

    def __init__(self) -> None:
        self.tasks = 0

    def submit(self, task: Any, stack: Stack) -> "Future[list[Drawn]]":
        future: Future[list[Drawn]] = Future()
        self.tasks += 1
        if self.tasks == 1:
            future.set_result(task(stack))
        else:
            future.set_exception(BrokenProcessPool())
        return future

    def shutdown(self, **kwargs: Any) -> None: ...


def test_what_a_broken_pool_leaves_is_drawn_here(monkeypatch: pytest.MonkeyPatch) -> None:
    stacks = two_slabs()
    monkeypatch.setattr(studio, "_pool", lambda processes: OneTaskPool())
    with studio.drawing(stacks, processes=2) as drawn:
        keys = [one.key for one in drawn]
    assert set(keys) == {0, 1}
    assert len(keys) == pictures.count(stacks)


def test_where_no_process_can_be_started_pictures_are_drawn_here(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refused(*args: Any, **kwargs: Any) -> None:
        raise PermissionError

    monkeypatch.setattr(studio, "ProcessPoolExecutor", refused)
    with studio.drawing(two_slabs(), processes=2) as drawn:
        assert next(drawn).role == "face_dry"
