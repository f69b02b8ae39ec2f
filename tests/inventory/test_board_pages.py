"""Sample boards on their pages."""

from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import BoardSections, Person, SampleBoard, Weighing
from tests.factories import at, make_bay, make_log, make_slab
from tests.inventory.check_helpers import TODAY
from tests.inventory.test_boards import cut, make_board, weigh

WET = {
    "board_mass": "2850", "wet_1": "171", "dry_1": "", "wet_2": "87", "dry_2": "",
    "on": "2026-05-20", "note": "", "entry_key": "c-1",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at(2026, 5, 20, 11), tick=False):
        yield


def text_of(response: Any) -> str:
    return unescape(response.content.decode()).replace("\N{NO-BREAK SPACE}", " ")


def url(name: str, *args: Any) -> str:
    return reverse(f"inventory:{name}", args=args)


def test_a_board_is_made_cut_dried_and_weighed(worker_client: Client) -> None:
    slab = make_slab()
    form = {"name": "A", "slab_code": slab.display_code.lower(), "log": "", "bay": "", "note": ""}
    page: Any = worker_client.post(url("board_new"), form)
    board = SampleBoard.objects.get()
    assert page.url == url("board", board.pk)
    worker_client.post(url("board_sections", board.pk), WET)
    waiting = text_of(worker_client.get(url("board", board.pk)))
    assert "Enter the oven-dry masses" in waiting
    row = BoardSections.objects.get()
    dried = {**WET, "dry_1": "100", "dry_2": "50", "entry_key": "c-2"}
    worker_client.post(url("sections_correct", row.pk), dried)
    mass = {"mass": "2150 g", "on": TODAY.isoformat(), "note": "", "entry_key": "w-1"}
    worker_client.post(url("board_weigh", board.pk), mass)
    done = text_of(worker_client.get(url("board", board.pk)))
    for said in ("71.0", "74.0", "72.5", "30.1"):
        assert said in done
    assert "makes no slab ready by itself" in done
    assert "30.1" in text_of(worker_client.get(url("boards")))
    assert "Sample board" in text_of(worker_client.get(slab.get_absolute_url()))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": ""}, "This is still empty"),
        ({"slab_code": ""}, "stands for one thing"),
        ({"slab_code": "22222"}, "look at the tag again"),
    ],
)
def test_a_board_stands_for_one_thing(
    worker_client: Client, changes: dict[str, str], sentence: str
) -> None:
    form = {"name": "A", "slab_code": make_slab().code, "log": "", "bay": "", "note": "by the door"}
    page = worker_client.post(url("board_new"), {**form, **changes})
    assert page.status_code == 422
    assert sentence in text_of(page)
    assert "by the door" in text_of(page)
    both = {**form, "log": make_log().pk}
    assert "stands for one thing" in text_of(worker_client.post(url("board_new"), both))
    assert not SampleBoard.objects.exists()


def test_a_board_for_a_log_or_a_bay(worker_client: Client) -> None:
    log, bay = make_log(), make_bay()
    for name, extra in (("L", {"log": log.pk, "bay": ""}), ("B", {"log": "", "bay": bay.pk})):
        form = {"name": name, "slab_code": "", "note": "", **extra}
        assert worker_client.post(url("board_new"), form).status_code == 302
    page = text_of(worker_client.get(url("boards")))
    assert f"Stands for log {log.number}" in page
    assert bay.name in page
    again = worker_client.post(url("board_new"), form)
    assert "There is a board of that name already." in text_of(again)


def test_a_board_is_laid_by(worker_client: Client, worker: Person) -> None:
    board = make_board()
    cut(board, worker)
    assert board.slab is not None
    form = {"name": "Z", "slab_code": board.slab.code, "log": "", "bay": "", "is_retired": "on"}
    worker_client.post(url("board_edit", board.pk), form)
    page = text_of(worker_client.get(url("board", board.pk)))
    assert "no longer weighed" in page
    assert url("board_weigh", board.pk) not in page


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"board_mass": ""}, "Type what the board weighs."),
        ({"wet_1": ""}, "Type what the section weighs."),
        ({"wet_1": "wet"}, "“wet” is not a mass"),
        ({"dry_1": "180"}, "weighs less oven-dry"),
        ({"wet_2": "", "dry_2": "50"}, "takes both masses"),
        ({"on": "2026-05-21"}, "ahead of today"),
    ],
)
def test_sections_that_cannot_be_are_said_beside_their_field(
    worker_client: Client, changes: dict[str, str], sentence: str
) -> None:
    board = make_board()
    page = worker_client.post(url("board_sections", board.pk), {**WET, **changes})
    assert page.status_code == 422
    assert sentence in text_of(page)
    assert not BoardSections.objects.exists()


def test_a_weighing_is_corrected_once(worker: Person, worker_client: Client) -> None:
    board = make_board()
    cut(board, worker)
    row = weigh(board, worker, 2.15)
    correct = url("board_weigh_correct", row.pk)
    assert 'value="4.74 lb"' in text_of(worker_client.get(correct))
    mass = {"mass": "2050", "on": TODAY.isoformat(), "note": "", "entry_key": "w-2"}
    assert worker_client.post(correct, mass).status_code == 302
    assert [w.mass_kg for w in Weighing.objects.current()] == [2.05]
    late = worker_client.post(correct, mass, follow=True)
    assert "Somebody has corrected this already" in text_of(late)
    other = worker_client.post(correct, {**mass, "mass": "2060", "entry_key": "w-9"})
    assert other.status_code == 422
    assert "Somebody has corrected this meanwhile." in text_of(other)
    assert 'value="2060"' in text_of(other)
    assert [w.mass_kg for w in Weighing.objects.current()] == [2.05]
    light = worker_client.post(url("board_weigh", board.pk), {**mass, "mass": "1 kg"})
    assert "with another mass" in text_of(light)
    mass["entry_key"] = "w-3"
    light = worker_client.post(url("board_weigh", board.pk), {**mass, "mass": "1 kg"})
    assert "no water" in text_of(light)


def test_doors(worker: Person, buyer_client: Client, owner_client: Client, client: Client) -> None:
    board = make_board()
    row, weight = cut(board, worker), weigh(board, worker, 2.15)
    writes = [
        url("board_new"),
        url("board_edit", board.pk),
        url("board_sections", board.pk),
        url("board_weigh", board.pk),
        url("sections_correct", row.pk),
        url("board_weigh_correct", weight.pk),
    ]
    for address in writes:
        assert owner_client.get(address).status_code == 200
        assert buyer_client.get(address).status_code == 403
        assert buyer_client.post(address).status_code == 403
    for address in (url("boards"), url("board", board.pk)):
        assert buyer_client.get(address).status_code == 200
        assert client.get(address).status_code == 302
        assert owner_client.post(address).status_code == 405
    session = owner_client.session
    session["client_view"] = True
    session.save()
    assert owner_client.get(url("boards")).status_code == 403
    for name in ("board", "board_edit", "board_sections", "board_weigh", "sections_correct"):
        assert buyer_client.get(url(name, 999999)).status_code in (403, 404)


def test_the_list_asks_as_often_for_one_board_as_for_many(
    worker: Person, worker_client: Client
) -> None:
    def queries() -> int:
        worker_client.get(url("boards"))
        with CaptureQueriesContext(connection) as captured:
            worker_client.get(url("boards"))
        return len(captured)

    def add(times: int) -> None:
        for _ in range(times):
            board = make_board(log=make_log())
            cut(board, worker)
            weigh(board, worker, 2.15)

    add(1)
    one = queries()
    add(9)
    assert queries() == one
