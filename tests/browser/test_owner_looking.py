"""The owner with a client, in a browser: narrow, come back, look close, lay side by side."""

import re
from io import BytesIO

import pytest
from playwright.sync_api import Page, Route, expect

from inventory.models import Person, Slab
from inventory.photos.store import add_upload
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit, Visitor
from tests.conftest import client_for
from tests.factories import copy_slab, make_person, make_slab
from tests.photos.pictures import grained, jpeg

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def ilse(transactional_db: None) -> Person:
    return make_person("Owner", username="ilse")


def opened(visit: Visit, person: Person, path: str, *args: object, **kwargs: object) -> Visitor:
    """A screen signed in by the session's cookie, at that address."""
    visitor = visit(*args, **kwargs)
    session = client_for(person).cookies["sessionid"].value
    visitor.page.context.add_cookies([{"name": "sessionid", "value": session, "url": visitor.base}])
    visitor.open(path)
    return visitor


def title(page: Page) -> str:
    return page.locator("#results-title").inner_text()


def test_filters_stand_in_the_address_and_back_undoes_them(visit: Visit, ilse: Person) -> None:
    copy_slab(make_slab(sawn="flat"), 4)
    copy_slab(make_slab(sawn="flat", length_mm=1200.0), 2)
    make_slab(sawn="rift")
    page = opened(visit, ilse, "/slabs/", TABLET).page
    page.get_by_text("Narrow down").tap()
    page.get_by_label("Flat-sawn").check()
    expect(page.locator("#results-title")).to_have_text("8 slabs")
    expect(page).to_have_url(re.compile(r"\?sawn=flat$"))
    assert page.evaluate("document.activeElement.id") == "sawn-flat"
    page.get_by_label("Length").fill("7 ft")
    page.get_by_label("Length").press("Tab")
    expect(page.locator("#results-title")).to_have_text("5 slabs")
    page.go_back()
    expect(page.locator("#results-title")).to_have_text("8 slabs")
    page.go_back()
    expect(page.locator("#results-title")).to_have_text("9 slabs")
    page.go_forward()
    expect(page.locator("#results-title")).to_have_text("8 slabs")
    page.get_by_role("link", name="Leave out Flat-sawn").tap()
    expect(page.locator("#results-title")).to_have_text("9 slabs")


def test_what_was_typed_wrong_stays_and_is_explained(visit: Visit, ilse: Person) -> None:
    make_slab()
    page = opened(visit, ilse, "/slabs/", DESKTOP).page
    page.get_by_label("Length").fill("about so long")
    page.get_by_label("Length").press("Enter")
    expect(page.locator("#field-length")).to_contain_text("is not a length")
    expect(page.get_by_label("Length")).to_have_value("about so long")


def test_coming_back_from_a_slab_finds_the_same_place(visit: Visit, ilse: Person) -> None:
    copy_slab(make_slab(), 59)
    page = opened(visit, ilse, "/slabs/?sort=code", TABLET).page
    page.get_by_role("link", name="Show more").tap()
    expect(page.locator(".slab-card")).to_have_count(48)
    expect(page).to_have_url(re.compile(r"\?sort=code&pages=2$"))
    card = page.locator(".slab-card .card-link").nth(40)
    card.scroll_into_view_if_needed()
    before = page.evaluate("scrollY")
    card.tap()
    expect(page).to_have_url(re.compile(r"/slabs/[A-Z0-9]{5}/$"))
    page.go_back()
    expect(page.locator(".slab-card")).to_have_count(48)
    page.wait_for_function(f"Math.abs(scrollY - {before}) < 40")


def test_ticks_are_kept_across_filters_and_four_are_the_most(visit: Visit, ilse: Person) -> None:
    copy_slab(make_slab(sawn="flat"), 3)
    copy_slab(make_slab(sawn="rift"), 3)
    page = opened(visit, ilse, "/slabs/?sawn=flat", DESKTOP).page
    expect(page.locator("#compare")).to_be_hidden()
    for number in (0, 1):
        page.locator(".compare-tick").nth(number).click()
    page.get_by_role("link", name="Leave out Flat-sawn").click()
    page.get_by_label("Rift-sawn").check()
    # The list before had as many: what tells the new one is what was asked for it.
    expect(page.get_by_role("link", name="Leave out Rift-sawn")).to_be_visible()
    expect(page.locator("#results-title")).to_have_text("4 slabs")
    for number in (0, 1):
        page.locator(".compare-tick").nth(number).click()
    expect(page.locator("#compare")).to_contain_text("4 slabs ticked: as many as fit.")
    expect(page.locator(".compare-tick input").nth(2)).to_be_disabled()
    page.get_by_role("button", name="Compare").click()
    expect(page.locator(".compare-outlines .upright")).to_have_count(4)
    page.get_by_role("link", name=re.compile("Take away")).first.click()
    expect(page.locator(".compare-outlines .upright")).to_have_count(3)
    page.get_by_role("link", name="Look through the slabs").click()
    expect(page.locator("#compare")).to_contain_text("3 slabs ticked.")


def test_what_is_left_out_stays_out_where_the_answer_is_slow(visit: Visit, ilse: Person) -> None:
    copy_slab(make_slab(sawn="flat"), 3)
    copy_slab(make_slab(sawn="rift"), 3)
    page = opened(visit, ilse, "/slabs/?sawn=flat", DESKTOP).page
    held: list[Route] = []
    page.route(re.compile(r"/slabs/\?$"), lambda route: held.append(route))
    page.get_by_role("link", name="Leave out Flat-sawn").click()
    page.get_by_label("Rift-sawn").check()
    expect(page.get_by_role("link", name="Leave out Rift-sawn")).to_be_visible()
    expect(page.locator("#results-title")).to_have_text("4 slabs")
    expect(page).to_have_url(re.compile(r"/slabs/\?sawn=rift$"))
    expect(page.get_by_label("Flat-sawn")).not_to_be_checked()
    assert len(held) == 1, "the first question was still unanswered"


def test_a_picture_is_looked_at_close(visit: Visit, ilse: Person) -> None:
    slab = make_slab()
    add_upload(slab, BytesIO(jpeg(grained(900, 400))), "face.jpg", "face_dry", ilse)
    page = opened(visit, ilse, slab.get_absolute_url(), DESKTOP).page
    page.locator("a[data-zoom]").click()
    expect(page.locator("dialog.magnifier")).to_be_visible()
    page.get_by_role("button", name="Nearer").click()
    page.keyboard.press("+")
    scale = page.locator(".magnifier img").evaluate("el => new DOMMatrix(el.style.transform).a")
    assert scale == pytest.approx(2.25)
    page.keyboard.press("Escape")
    expect(page.locator("dialog.magnifier")).to_be_hidden()


def test_the_client_view_is_one_switch(visit: Visit, ilse: Person) -> None:
    slab = make_slab(house_note="pith split")
    page = opened(visit, ilse, slab.get_absolute_url(), TABLET).page
    expect(page.get_by_text("pith split")).to_be_visible()
    page.get_by_role("button", name="Client view").tap()
    expect(page.get_by_text("Client view: costs")).to_be_visible()
    expect(page.get_by_text("pith split")).to_have_count(0)
    assert slab.code in page.url
    page.get_by_role("button", name="Leave the client view").tap()
    expect(page.get_by_text("pith split")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE, TABLET, DESKTOP])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_are_accessible_and_fit(
    visit: Visit, ilse: Person, size: tuple[int, int], scheme: str
) -> None:
    slab = make_slab(sawn="flat", figures=["burl"], faults=["crack"])
    other = make_slab()
    add_upload(slab, BytesIO(jpeg(grained(900, 400))), "face.jpg", "face_dry", ilse)
    Slab.objects.filter(pk=other.pk).update(condition="ready", mc_pct=7.2)
    visitor = opened(visit, ilse, "/slabs/", size, scheme, bypass_csp=True)
    for path in (
        "/slabs/?sawn=flat&length=7+ft",
        "/slabs/?length=so&figure=burl&price_to=1",
        slab.get_absolute_url(),
        f"/compare/?slab={slab.code}&slab={other.code}",
        "/compare/",
    ):
        visitor.open(path)
        visitor.page.wait_for_load_state("networkidle")
        visitor.expect_accessible()
        visitor.expect_no_sideways_scroll()
