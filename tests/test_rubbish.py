"""Every door filled with rubbish, by somebody who may open it: a sentence, never a traceback.

Django's test client raises whatever a view lets fall, so that a page that breaks breaks the test.
"""

from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from tests.conftest import client_for
from tests.factories import make_person
from tests.test_doors import DOORS, Yard, yard

__all__ = ["yard"]

RUBBISH = (
    "a\x00b",
    "9" * 5000,
    "99999999999999999999",
    "-1",
    "1e999",
    "nan",
    "²",
    "9999-12-31",
    "=1+1<b>&'\"",
)
# What pages read from their address, beside the fields their own forms name.
ASKED = (
    "q", "page", "pages", "sort", "view", "species", "place", "standing", "condition", "figure",
    "length", "price_from", "by", "selling", "slab", "for", "next", "top", "way", "photo", "side",
    "from", "to", "on", "until", "month", "use", "meter", "bay", "client", "kept", "rows", "up",
    "order",
)  # fmt: skip
# Asked alone too, so that none hides behind another's refusal.
ALONE = {
    "/slabs/": ASKED[:12],
    "/worth/": ("by", "standing", "species", "place", "selling"),
    "/worth/workbook/": ("by", "species", "selling"),
    "/parcels/": ("q", "page"),
    "/compare/": ("slab",),
}


class Names(HTMLParser):
    """The names of every field a page's forms would send."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, None] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        name = dict(attrs).get("name")
        if name and tag in ("input", "select", "textarea", "button"):
            self.found[name] = None


def names_on(client: Client, address: str) -> list[str]:
    page = client.get(address)
    if page.streaming:
        page.getvalue()
    if page.streaming or "html" not in page.headers.get("Content-Type", ""):
        return []
    reader = Names()
    reader.feed(page.content.decode())
    return [name for name in reader.found if name != "csrfmiddlewaretoken"]


def doors(yard: Yard) -> Iterator[tuple[str, str]]:
    """(address, method) of every door of the table."""
    for door in DOORS:
        yield reverse(door.name, args=door.args(yard)), door.method


def status(client: Client, method: str, address: str, data: dict[str, str]) -> int:
    with transaction.atomic():
        answer = getattr(client, method)(address, data)
        if answer.streaming:
            answer.getvalue()
        transaction.set_rollback(True)
    return int(answer.status_code)


@pytest.fixture
def all_may(yard: Yard) -> Client:
    """Signed in as an owner, who has every right."""
    return client_for(make_person("Owner"))


@pytest.mark.parametrize("rubbish", RUBBISH, ids=lambda text: ascii(text[:12]))
def test_an_address_full_of_rubbish_is_read_as_far_as_it_goes(
    all_may: Client, yard: Yard, rubbish: str
) -> None:
    text = rubbish[:300]
    for address, method in doors(yard):
        if method != "get":
            continue
        assert status(all_may, "get", address, dict.fromkeys(ASKED, text)) < 500, address


@pytest.mark.parametrize("address", ALONE)
def test_a_question_asked_alone_with_rubbish(all_may: Client, yard: Yard, address: str) -> None:
    for name in ALONE[address]:
        for rubbish in RUBBISH:
            assert status(all_may, "get", address, {name: rubbish}) < 500, (name, rubbish[:12])


@pytest.mark.parametrize("rubbish", RUBBISH, ids=lambda text: ascii(text[:12]))
def test_a_form_full_of_rubbish_is_refused_in_a_sentence(
    all_may: Client, yard: Yard, rubbish: str
) -> None:
    for address, method in doors(yard):
        names = names_on(all_may, address) if method == "get" else []
        if "client-view" in address:
            continue
        data = dict.fromkeys(names or ASKED, rubbish)
        assert status(all_may, "post", address, data) < 500, address
