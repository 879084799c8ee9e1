"""A tablet in the plant: signed in, watched for broken rules, and its taps counted."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import BrowserContext, ConsoleMessage, Locator, Page, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.plant.models import Person

# a desk, a tablet on its side, a phone
SIZES = {"desk": (1280, 800), "tablet": (1024, 768), "phone": (390, 844)}
# WCAG 2.2 AA, as the rules of axe-core are labelled
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WATCH = """
addEventListener("securitypolicyviolation", (event) => {
  console.error("POLICY " + event.violatedDirective + " " + event.blockedURI);
});
"""


@dataclass
class Tablet:
    """A page with what went wrong on it, and how often it was tapped."""

    page: Page
    home: str
    taps: int = 0
    wrong: list[str] = field(default_factory=list)

    def go(self, path: str) -> None:
        """Open a page of the plant."""
        self.page.goto(f"{self.home}{path}")

    def hold(self, size: str, *, scheme: Literal["light", "dark"] = "light") -> None:
        """Let the screen be of this size, by day or by night."""
        width, height = SIZES[size]
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.emulate_media(color_scheme=scheme)

    def tap(self, what: Locator | str) -> None:
        """Tap something that can be seen."""
        found = self.page.locator(what) if isinstance(what, str) else what
        found.click()
        self.taps += 1

    def type_in(self, text: str) -> None:
        """Type into the present step's field, once it has the focus, and press Enter."""
        expect(self.page.locator("#now [data-first-field] input")).to_be_focused()
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def button(self, name: str) -> Locator:
        """The button with this name."""
        return self.page.get_by_role("button", name=name)

    def photograph(self, field: Locator, *, picture: Path) -> None:
        """Tap a photo field, and let the camera give a picture."""
        with self.page.expect_file_chooser() as chooser:
            self.tap(field)
        chooser.value.set_files(picture)


def tablet(context: BrowserContext, server: LiveServer, *, person: Person | None = None) -> Tablet:
    """A new page in the context; of somebody who is signed in, or of nobody."""
    if person is not None:
        client = Client()
        client.force_login(person)
        session = client.cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": session, "url": server.url}])
    context.add_init_script(WATCH)
    page = context.new_page()
    found = Tablet(page=page, home=server.url)

    def note(message: ConsoleMessage) -> None:
        # what the network says of itself is looked at by the tests that cut it
        if message.type == "error" and "Failed to load resource" not in message.text:
            found.wrong.append(message.text)

    page.on("console", note)
    page.on("pageerror", lambda error: found.wrong.append(str(error)))
    return found


def broken_rules(page: Page) -> list[str]:
    """What axe-core finds on the page, each with where it is."""
    options = {"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response["violations"]
    return [
        f"{rule['id']}: {node['target']} {node.get('failureSummary', '')}"
        for rule in found
        for node in rule["nodes"]
    ]


def wider_than_the_screen(page: Page) -> bool:
    """Whether the page has to be pushed sideways to be read."""
    # between two pages there is a document without anything in it
    page.wait_for_function("document.readyState === 'complete' && document.documentElement")
    return bool(page.evaluate("document.documentElement.scrollWidth > innerWidth"))


def until(page: Page, says: str, *, arg: object = None, frames: int = 1_800) -> None:
    """Wait until the page itself says so; `wait_for_function` takes any promise for a yes."""
    for _frame in range(frames):
        if page.evaluate(says, arg):
            return
        page.evaluate("new Promise(requestAnimationFrame)")
    raise AssertionError(f"the page never says: {says} {arg}")


@contextmanager
def without_net(context: BrowserContext) -> Iterator[None]:
    """The wifi is gone for a while."""
    context.set_offline(True)
    try:
        yield
    finally:
        context.set_offline(False)
