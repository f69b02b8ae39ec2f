"""From photograph to outline in a real browser: by finger on a tablet, by mouse, by keys alone."""

import json
import re
from typing import Any

import numpy as np
import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect

from catalogue import roles
from inventory import species_table
from inventory.models import FaceSide, Outline, Person, Slab, Species
from inventory.outline_pages import straight_scene
from inventory.outline_setup import Asked, Setup, set_up
from inventory.photos.scale import Floats
from inventory.wood import measure
from tests.bench.photographs import Photograph
from tests.browser.conftest import DESKTOP, PHONE, TABLET, Visit, Visitor
from tests.factories import make_person
from tests.traced_pictures import area_mm2, clicks_mm, face, jpeg_of, slab_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ON_SCREEN = """([points]) => {
  const to = document.querySelector("[data-stage]").getScreenCTM();
  return points.map(([x, y]) => [to.a * x + to.e, to.d * y + to.f]);
}"""
HANDLES = """() => {
  const stage = document.querySelector("[data-stage]").getBoundingClientRect();
  return [...document.querySelectorAll(".handle")].map((handle) => {
    const box = handle.firstElementChild.getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
  }).filter(([x, y]) => x > stage.left + 40 && x < stage.right - 40
    && y > Math.max(stage.top, 80) + 30 && y < Math.min(stage.bottom, innerHeight - 90) - 30);
}"""


def worker() -> Person:
    species_table.load(Species)
    roles.sync_groups()
    return make_person("Owner", length_system="imperial")


def begin(visit: Visit, size: tuple[int, int], kind: str = "good") -> tuple[Visitor, Slab]:
    """Signed in, on the slab's page, "Trace its outline" pressed and its photograph chosen."""
    by, slab = worker(), slab_of(face(kind))
    visitor = visit(size)
    visitor.sign_in(by)
    visitor.open(slab.get_absolute_url())
    visitor.page.get_by_role("link", name="Trace its outline").click()
    file = {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": jpeg_of(face(kind).pixels)}
    visitor.page.locator("input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    return visitor, slab


def scale_of(slab: Slab) -> Setup:
    setup = set_up(Asked(slab.photos.get(), "upper"))
    assert isinstance(setup, Setup)
    return setup


def on_screen(page: Page, points: Floats) -> list[list[float]]:
    found: list[list[float]] = page.evaluate(ON_SCREEN, [np.asarray(points).tolist()])
    return found


def drawn(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(page.locator("[data-field]").input_value())
    return found


def ready(page: Page) -> Locator:
    """The board, once it takes hands and keys."""
    stage = page.locator("[data-stage]")
    expect(stage).to_have_attribute("tabindex", "0")
    return stage


def click_round(page: Page, picture: Photograph, slab: Slab, *, is_touch: bool) -> None:
    expect(page.get_by_role("heading", name="Click round")).to_be_visible()
    ready(page)
    places = on_screen(page, clicks_mm(picture, scale_of(slab).scale))
    for x, y in places:
        if is_touch:
            page.touchscreen.tap(x, y)
        else:
            page.mouse.click(x, y)
    assert len(json.loads(page.locator("[data-field]").input_value())) == len(places)


def drag(page: Page, start: list[float], dx: float, dy: float) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(start[0] + dx, start[1] + dy, steps=4)
    expect(page.locator("[data-lens]")).to_be_visible()
    page.mouse.up()
    expect(page.locator("[data-lens]")).to_be_hidden()


def board_feet(page: Page) -> str:
    return page.locator("[data-board-feet]").inner_text().strip()


def test_on_a_tablet_two_points_are_corrected_and_board_feet_change(visit: Visit) -> None:
    picture = face()
    visitor, slab = begin(visit, TABLET)
    page = visitor.page
    before = measure.format_volume(slab.volume_mm3, "imperial")
    expect(page.get_by_label("The bar measures")).to_have_value("10\xa0in")
    page.get_by_role("button", name="Go on").click()
    click_round(page, picture, slab, is_touch=True)
    visitor.expect_accessible()
    page.get_by_role("button", name="Draft the line").click()
    expect(page.get_by_role("heading", name="Put the line right")).to_be_visible()
    visitor.expect_accessible()
    visitor.expect_no_sideways_scroll()

    drafted, shown = drawn(page), board_feet(page)
    for nth in (1, -2):
        places = page.evaluate(HANDLES)
        drag(page, places[nth], 0, 60)
    expect(page.locator("[data-board-feet]")).not_to_have_text(shown)
    corrected = drawn(page)
    assert corrected["corrected"] == 2
    # Only what lies about the two points has moved; the rest of the draft is as it was.
    same = sum(
        a[:2] == b[:2] for a, b in zip(drafted["outline"], corrected["outline"], strict=True)
    )
    assert 0.5 * len(drafted["outline"]) < same < len(drafted["outline"])
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="Redo").click()
    assert drawn(page) == corrected

    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text("Say whether bark lies inside the line")).to_be_visible()
    assert drawn(page)["corrected"] == 2  # refused, and nothing is lost
    page.get_by_label("Inside the bark").check()
    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text(f"The outline of {slab} is kept")).to_be_visible()
    slab.refresh_from_db()
    after = measure.format_volume(slab.volume_mm3, "imperial")
    assert after != before
    expect(page.locator(".facts").first).to_contain_text(after.split("\xa0")[0])
    kept = Outline.objects.get(slab=slab)
    assert (kept.side, kept.corrected_points, kept.is_bark_inside) == (FaceSide.UPPER, 2, False)


def test_by_mouse_a_hole_is_traced_and_the_outline_corrected_later(visit: Visit) -> None:
    picture = face()
    visitor, slab = begin(visit, DESKTOP)
    page = visitor.page
    page.get_by_role("button", name="Go on").click()
    click_round(page, picture, slab, is_touch=False)
    page.get_by_role("button", name="Draft the line").click()
    expect(page.get_by_role("heading", name="Put the line right")).to_be_visible()
    whole = board_feet(page)
    middle = clicks_mm(picture, scale_of(slab).scale).mean(axis=0)
    page.get_by_role("button", name="Trace a hole").click()
    for x, y in on_screen(page, middle + np.array([(-60, -40), (60, -40), (60, 40), (-60, 40)])):
        page.mouse.click(x, y)
    page.get_by_role("button", name="Hole is done").click()
    expect(page.locator("[data-board-feet]")).not_to_have_text(whole)
    assert area_mm2(np.array(drawn(page)["holes"][0])[:, :2]) == pytest.approx(9600, rel=0.05)
    visitor.expect_accessible()

    # Nearer by the wheel; the line takes a new point where it is clicked.
    count = len(drawn(page)["outline"])
    ring = np.array(drawn(page)["outline"])[:, :2]
    sides = np.roll(ring, -1, axis=0) - ring
    longest = int(np.linalg.norm(sides, axis=1).argmax())
    ((x, y),) = on_screen(page, (ring[longest] + sides[longest] / 2)[None])
    page.mouse.click(x, y)
    assert len(drawn(page)["outline"]) == count + 1
    box = page.locator("[data-stage]").get_attribute("viewBox")
    page.mouse.wheel(0, -300)
    expect(page.locator("[data-stage]")).not_to_have_attribute("viewBox", str(box))

    page.get_by_label("Round the bark").check()
    page.get_by_label("Thickness of the bark").fill("1/2")
    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text(f"The outline of {slab} is kept")).to_be_visible()
    first = Outline.objects.get(slab=slab)
    assert len(first.holes) == 1
    assert first.bark_mm == pytest.approx(12.7)

    page.get_by_role("link", name="Trace its outline").click()
    page.get_by_role("link", name="Correct it").click()
    expect(page.get_by_role("heading", name="Put the line right")).to_be_visible()
    expect(page.get_by_label("Round the bark")).to_be_checked()
    drag(page, page.evaluate(HANDLES)[0], 5, 30)
    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text(f"The outline of {slab} is kept")).to_be_visible()
    assert Outline.objects.filter(slab=slab).current().get().supersedes == first


def test_by_keys_alone(visit: Visit) -> None:
    visitor, _ = begin(visit, DESKTOP)
    page = visitor.page
    page.get_by_role("button", name="Go on").press("Enter")
    expect(page.get_by_role("heading", name="Click round")).to_be_visible()
    stage = ready(page)
    # The cross begins in the middle; four corners of a square about it, by arrows and Enter.
    stage.focus()
    for keys in ("ArrowLeft ArrowUp", "ArrowRight ArrowRight", "ArrowDown ArrowDown", "ArrowLeft"):
        for key in keys.split():
            for _ in range(4):
                page.keyboard.press(key)
        page.keyboard.press("Enter")
    assert len(json.loads(page.locator("[data-field]").input_value())) == 4
    page.get_by_role("button", name="Join my points").press("Enter")
    expect(page.get_by_role("heading", name="Put the line right")).to_be_visible()

    expect(page.locator(".handle")).to_have_count(4)
    first = drawn(page)["outline"]
    page.locator("[data-stage]").focus()
    page.keyboard.press("Tab")
    expect(page.locator(".handle").first).to_be_focused()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+ArrowUp")
    moved = drawn(page)["outline"]
    assert np.array(moved[0][:2]) - np.array(first[0][:2]) == pytest.approx([-1, -10])
    page.keyboard.press("Insert")
    assert len(drawn(page)["outline"]) == 5
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    assert drawn(page)["outline"] == first
    page.keyboard.press("Control+y")
    assert drawn(page)["outline"] != first
    page.locator(".handle").nth(1).focus()
    page.keyboard.press("Delete")
    assert len(drawn(page)["outline"]) == 3


def test_a_picture_without_sheets_is_measured_by_two_points(visit: Visit) -> None:
    picture = face("bare")
    visitor, slab = begin(visit, TABLET, "bare")
    page = visitor.page
    page.get_by_label("Length by tape").fill("8 ft")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_text("No scale sheet can be read in this picture")).to_be_visible()
    expect(page.get_by_label("Length by tape")).to_have_value("8 ft")
    visitor.expect_accessible()
    page.get_by_label("Two points a taped distance apart").check()
    ends = picture.camera.px(picture.wood_mm)[[0, len(picture.wood_mm) // 2 - 1]]
    apart = np.linalg.norm(np.diff(picture.wood_mm[[0, len(picture.wood_mm) // 2 - 1]], axis=0))
    page.get_by_label("How far apart the two points are").fill(f"{apart:.0f} mm")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="Click the two points")).to_be_visible()
    visitor.expect_accessible()
    expect(page.get_by_role("button", name="Go on")).to_be_disabled()
    ready(page)
    for x, y in on_screen(page, ends):
        page.touchscreen.tap(x, y)
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="Click round")).to_be_visible()
    expect(page.get_by_text("Two points give the size only where they lie")).to_be_visible()
    assert slab.photos.count() == 1


def test_without_javascript_the_way_is_open_from_first_press_to_last(visit: Visit) -> None:
    visitor = visit(PHONE, java_script_enabled=False)
    by, slab = worker(), slab_of(face())
    page = visitor.page
    visitor.sign_in(by)
    visitor.open(reverse("inventory:outline_start", args=[slab.code]))
    file = {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": jpeg_of(face().pixels)}
    page.locator("input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    page.get_by_role("button", name="Go on").click()
    setup = scale_of(slab)
    straight = page.locator("input[type=image]")
    for nth in (0, 3, 7, 10):
        place = clicks_mm(face(), setup.scale)[nth % len(clicks_mm(face(), setup.scale))]
        left, top, wide, _ = straight_scene(setup).picture
        share = 900 / wide
        at = {"x": (place[0] - left) * share, "y": (place[1] - top) * share}
        straight.click(position=at)  # type: ignore[arg-type]
    page.get_by_role("button", name="Join my points").last.click()
    expect(page.get_by_role("heading", name="Put the line right")).to_be_visible()
    page.get_by_label("Inside the bark").check()
    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text(f"The outline of {slab} is kept")).to_be_visible()


@pytest.mark.parametrize(("paper", "size_pt"), [("a4", (595.3, 841.9)), ("letter", (612, 792))])
def test_sheets_printed_from_the_browser_fill_one_paper_each(
    visit: Visit, paper: str, size_pt: tuple[float, float]
) -> None:
    """ISO 216 and ANSI/ASME Y14.1 sizes in points of 1/72 in; the bar is 10 in on screen too."""
    visitor = visit(DESKTOP)
    visitor.sign_in(worker())
    visitor.open(reverse("inventory:scale_sheets_print", args=[paper]))
    pdf = visitor.page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert len(boxes) == 2
    for box in boxes:
        assert [float(side) for side in box] == pytest.approx(size_pt, abs=1.0)
    visitor.page.emulate_media(media="print")
    # The SVG counts mm: 96 CSS px an inch is true size.
    share = visitor.page.evaluate("document.querySelector('.scale-sheet').getScreenCTM().a")
    assert share * 25.4 == pytest.approx(96, rel=1e-4)


# --- what a phone in a shed does ------------------------------------------------------------


def tap_at(page: Page, places: list[list[float]]) -> None:
    for x, y in places:
        page.touchscreen.tap(x, y)


def test_by_finger_corners_close_together_are_put_and_nothing_moves_out_of_sight(
    visit: Visit,
) -> None:
    """A rectangle of 40 cm is some 17 px wide on a phone, less than a finger's reach to a point."""
    visitor, slab = begin(visit, PHONE, "bare")
    page = visitor.page
    page.get_by_label("A rectangle of known size").check()
    page.get_by_label("Its side from first to second corner").fill("400 mm")
    page.get_by_label("Its side from second to third corner").fill("120 mm")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="four corners")).to_be_visible()
    stage = ready(page)
    box = stage.bounding_box()
    assert box is not None
    seen = stage.get_attribute("viewBox")
    # At the very border of the board too: the tap's own focus must not bring it to the middle.
    x, y = box["x"] + 6, box["y"] + box["height"] / 2
    tap_at(page, [[x, y], [x + 17, y], [x + 17, y + 15], [x, y + 15]])
    assert len(drawn(page)) == 4
    assert stage.get_attribute("viewBox") == seen
    expect(page.get_by_role("button", name="Go on")).to_be_enabled()
    # A tap on a point itself takes hold of it; full, nothing more is put.
    tap_at(page, [[x, y]])
    page.get_by_role("button", name="Take point out").click()
    assert len(drawn(page)) == 3
    assert slab.photos.count() == 1


def test_a_line_outlives_a_lost_signal_and_a_page_that_is_lost(visit: Visit) -> None:
    picture = face()
    visitor, slab = begin(visit, TABLET)
    page = visitor.page
    page.get_by_role("button", name="Go on").click()
    click_round(page, picture, slab, is_touch=True)
    clicked = drawn(page)
    page.reload()
    ready(page)
    expect(page.get_by_text("Your points from before are back")).to_be_visible()
    assert drawn(page) == clicked
    page.get_by_role("button", name="Draft the line").click()
    expect(page.get_by_role("heading", name="Put the line right")).to_be_visible()
    ready(page)
    drafted = drawn(page)
    places = page.evaluate(HANDLES)
    drag(page, places[1], 0, 60)
    corrected = drawn(page)

    page.context.set_offline(True)
    page.get_by_label("Inside the bark").check()
    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text("No signal here. Nothing is lost")).to_be_visible()
    visitor.expect_accessible()
    assert Outline.objects.count() == 0
    page.context.set_offline(False)
    expect(page.get_by_text("The signal is back: send it now.")).to_be_visible()
    visitor.complaints.clear()  # the live figures could not be fetched meanwhile

    # The phone closes the page; the browser asks for it anew by the clicks it was drafted from.
    page.reload()
    ready(page)
    expect(page.get_by_text("The line as you left it is back")).to_be_visible()
    assert drawn(page) == corrected
    page.get_by_role("button", name="Undo").click()
    assert drawn(page)["outline"] == drafted["outline"]
    page.get_by_role("button", name="Redo").click()
    page.get_by_label("Inside the bark").check()
    page.get_by_role("button", name="Keep this outline").click()
    expect(page.get_by_text(f"The outline of {slab} is kept")).to_be_visible()
    kept = Outline.objects.get(slab=slab)
    assert kept.traced == [place[:2] for place in corrected["outline"]]


def test_a_picture_that_cannot_be_read_is_refused_on_the_page(visit: Visit) -> None:
    visitor, slab = begin(visit, PHONE, "bare")
    page = visitor.page
    page.locator("input[type=file]").set_input_files(
        {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    )
    page.get_by_label("Length by tape").fill("7 ft")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_text("This is not a photo we can read")).to_be_visible()
    expect(page.get_by_label("Length by tape")).to_have_value("7 ft")
    visitor.expect_accessible()
    assert slab.photos.count() == 0
    # And once more, on the page as it now stands.
    file = {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": jpeg_of(face("bare").pixels)}
    page.locator("input[type=file]").set_input_files(file)  # type: ignore[arg-type]
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_text("No scale sheet")).to_be_visible()
    assert slab.photos.count() == 1
