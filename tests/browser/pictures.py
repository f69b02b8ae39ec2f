"""Take the README's pictures again from the demo yard: `python -m tests.browser.pictures`.

Starts the demo on a spare port (loading it first where it is not there yet), walks to each screen
as the person it is for, and writes WebP files to fixtures/screens/.
"""

import io
import subprocess
import sys
import time
import urllib.request
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "fixtures" / "screens"
PORT = 8733
BASE = f"http://localhost:{PORT}"
PASSWORD = "bark-and-heartwood"
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


@dataclass(frozen=True)
class Screen:
    """A picture to take: file name, who looks, window in pixels, where to begin and what to click
    from there.
    """

    name: str
    person: str
    size: tuple[int, int]
    path: str
    follow: tuple[str, ...] = ()
    scheme: str = "light"


DEAREST = "/slabs/?condition=ready&sort=dearest"
SCREENS = (
    Screen("browse", "maren", (1180, 820), "/slabs/?condition=ready&sort=widest"),
    Screen("slab", "maren", (1180, 1100), DEAREST, (".slab-card .card-link",)),
    Screen("commission", "maren", (1180, 1000), "/commissions/", ("main ul a, main table a",)),
    Screen("check", "osk", (390, 780), "/moisture/", (".round a",)),
    Screen("places", "osk", (390, 780), "/places/", (), "dark"),
    Screen("outlines", "maren", (1180, 820), "/slabs/?view=outlines&sort=widest"),
    Screen(
        "lay",
        "maren",
        (1180, 820),
        "/commissions/",
        ("text=Round river table", "a:has-text('Lay it by hand')"),
    ),
    Screen("worth", "tobiah", (1180, 820), "/worth/"),
)


def start_demo() -> subprocess.Popen[bytes]:
    """The demo yard in a process of its own, answering on PORT."""
    demo = subprocess.Popen([sys.executable, str(ROOT / "manage.py"), "demo", "--port", str(PORT)])
    for _ in range(600):
        try:
            urllib.request.urlopen(f"{BASE}/sign-in/", timeout=2).close()
        except OSError:
            time.sleep(0.5)
        else:
            return demo
    demo.terminate()
    raise SystemExit("The demo did not start.")


def signed_in(browser: Browser, screen: Screen) -> Page:
    width, height = screen.size
    page = browser.new_page(
        viewport={"width": width, "height": height},
        device_scale_factor=1.5,
        color_scheme="dark" if screen.scheme == "dark" else "light",
    )
    page.goto(f"{BASE}/sign-in/")
    page.get_by_label("Name to sign in with").fill(screen.person)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
    return page


def take(browser: Browser, screen: Screen) -> None:
    page = signed_in(browser, screen)
    page.goto(BASE + screen.path)
    for step in screen.follow:
        page.locator(step).first.click()
        page.wait_for_load_state()
    page.wait_for_load_state("networkidle")
    picture = Image.open(io.BytesIO(page.screenshot()))
    picture.convert("RGB").save(OUT / f"{screen.name}.webp", quality=82, method=6)
    page.close()


def main() -> None:
    OUT.mkdir(parents=True, exist_ok=True)
    demo = start_demo()
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
            for screen in SCREENS:
                take(browser, screen)
            browser.close()
    finally:
        demo.terminate()
        demo.wait()


if __name__ == "__main__":
    main()
