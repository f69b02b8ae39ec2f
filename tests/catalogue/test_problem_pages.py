"""Pages that cannot be shown say why in a sentence."""

import pytest
from django.template.loader import render_to_string
from django.test import Client, RequestFactory


def test_an_address_that_is_none_says_so(owner_client: Client) -> None:
    page = owner_client.get("/nowhere/at/all/")
    assert page.status_code == 404
    assert "There is no page at this address." in page.content.decode()


def test_a_closed_door_gives_its_reason(worker_client: Client) -> None:
    page = worker_client.get("/slabs/22223/price/")
    assert page.status_code == 403
    assert "not among your duties" in page.content.decode()
    assert "Look through the slabs" in page.content.decode()


def test_a_form_without_its_token_is_asked_for_once_more(owner_client: Client) -> None:
    strict = Client(enforce_csrf_checks=True, headers={"cookie": owner_client.cookies.output()})
    page = strict.post("/client-view/", {"on": "yes"})
    assert page.status_code == 403
    assert "Please send it once more" in page.content.decode()


@pytest.mark.parametrize("name", ["400.html", "500.html"])
def test_pages_for_the_worst_need_nothing_to_be_drawn(name: str) -> None:
    page = render_to_string(name)
    assert "<h1>" in page
    assert "error" not in page.lower()


def test_no_problem_page_speaks_of_errors_or_numbers(rf: RequestFactory) -> None:
    for name in ("400.html", "403.html", "403_csrf.html", "404.html", "500.html"):
        text = render_to_string(name, {"sentence": "A sentence."})
        assert name[:3] not in text
