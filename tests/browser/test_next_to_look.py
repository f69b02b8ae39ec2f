"""A tablet goes from hand to hand: what a browser remembers is not shown to whoever looks next."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from inventory.models import Person, Slab
from tests.browser.conftest import ARGS, DESKTOP
from tests.conftest import client_for
from tests.factories import make_person, make_slab

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
COST = "Landed cost"


@pytest.fixture
def remembering(browser: Browser) -> Iterator[Browser]:
    """A browser that keeps left pages whole for the Back button, as people's browsers do."""
    kept = browser.browser_type.launch(
        executable_path="/usr/bin/chromium",
        args=ARGS,
        ignore_default_args=["--disable-back-forward-cache"],
    )
    yield kept
    kept.close()


def signed_in(browser: Browser, base: str, person: Person) -> Page:
    width, height = DESKTOP
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=base)
    session = client_for(person).cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": base}])
    return context.new_page()


def go_back(page: Page) -> None:
    # A page that comes out of memory whole never loads, which `page.go_back` would wait for.
    page.evaluate("setTimeout(() => history.back(), 10)")
    page.wait_for_timeout(800)


@pytest.mark.parametrize("role", ["Owner", "Worker"])
def test_back_after_signing_out_leads_to_signing_in(
    remembering: Browser, live_server: object, role: str
) -> None:
    slab = make_slab(house_note="Sawn crooked.")
    page = signed_in(remembering, str(live_server), make_person(role))
    page.goto("/slabs/")
    page.goto(slab.get_absolute_url())
    expect(page.locator(".house-note")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    go_back(page)
    expect(page.get_by_role("heading", name="Sign in to the yard")).to_be_visible()
    assert "Sawn crooked" not in page.content()


def test_a_client_who_turns_back_or_changes_the_tab_sees_no_cost(
    remembering: Browser, live_server: object
) -> None:
    first, second = make_slab(), make_slab()
    page = signed_in(remembering, str(live_server), make_person("Owner"))
    for slab in (first, second):
        page.goto(slab.get_absolute_url())
        expect(page.get_by_text(COST)).to_be_visible()
    other = page.context.new_page()
    other.goto(first.get_absolute_url())
    page.bring_to_front()
    page.get_by_role("button", name="Client view").click()
    expect(page.locator(".client-view-note")).to_be_visible()
    go_back(page)
    go_back(page)
    expect(page.locator(".client-view-note")).to_be_visible()
    assert COST not in page.content()
    # Headless pages never hide; the event is what a change of tab sends.
    other.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(other.locator(".client-view-note")).to_be_visible()
    assert COST not in other.content()


def test_what_a_worker_typed_comes_back_with_the_back_button(
    remembering: Browser, live_server: object
) -> None:
    slab: Slab = make_slab()
    page = signed_in(remembering, str(live_server), make_person("Worker"))
    page.goto(f"/slabs/{slab.code}/measure/")
    page.locator("[name=length_mm]").fill("7 ft 3")
    page.goto("/slabs/")
    go_back(page)
    expect(page.locator("[name=length_mm]")).to_have_value("7 ft 3")
