"""A real headless Chromium on a live server: pages are used as people use them."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from inventory.models import Person
from tests.factories import PASSWORD

PHONE, TABLET, DESKTOP = (390, 844), (820, 1180), (1440, 900)
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    # Playwright's own event loop runs in this thread; Django must not take it for async code.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        yield chromium
        chromium.close()


@dataclass
class Visitor:
    """A person at a screen: opens pages, and remembers everything the console complained of."""

    page: Page
    base: str
    complaints: list[str] = field(default_factory=list)

    def open(self, path: str) -> None:
        self.page.goto(self.base + path)

    def sign_in(self, person: Person) -> None:
        self.open("/sign-in/")
        self.page.get_by_label("Name to sign in with").fill(person.username)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_load_state()

    def expect_accessible(self) -> None:
        """axe finds nothing on the page as it stands."""
        results = Axe().run(self.page)
        assert results.violations_count == 0, results.generate_report()

    def expect_no_sideways_scroll(self) -> None:
        widths = self.page.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert widths[0] <= widths[1], f"{self.page.url} scrolls sideways: {widths}"


Visit = Callable[..., Visitor]


@pytest.fixture
def visit(browser: Browser, live_server: Any) -> Iterator[Visit]:
    """`visit((390, 844), scheme="dark")` opens a fresh screen; complaints fail the test."""
    contexts: list[BrowserContext] = []
    visitors: list[Visitor] = []

    def start(size: tuple[int, int] = DESKTOP, scheme: Any = "light", **kwargs: Any) -> Visitor:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            has_touch=size[0] < 1000,
            accept_downloads=True,
            **kwargs,
        )
        contexts.append(context)
        visitor = Visitor(context.new_page(), live_server.url)
        visitor.page.set_default_timeout(10_000)
        visitor.page.on("pageerror", lambda problem: visitor.complaints.append(str(problem)))
        visitor.page.on("console", lambda message: _note(visitor, message))
        visitors.append(visitor)
        return visitor

    yield start
    for context in contexts:
        context.close()
    complaints = [complaint for visitor in visitors for complaint in visitor.complaints]
    assert not complaints, complaints


# A later question takes an earlier one's place; htmx logs what it broke off by these two.
BROKEN_OFF = ("htmx:afterRequest", "htmx:sendAbort")


def _note(visitor: Visitor, message: Any) -> None:
    if message.text.startswith(BROKEN_OFF):
        return
    # A refused form answers 422 on purpose; the browser logs it as a failed load.
    if message.type == "error" and "422" not in message.text:
        visitor.complaints.append(f"{message.text} {message.location.get('url', '')}")
