"""A tablet whose forms wait: what the tests of the outbox do with it, and what they look at."""

import base64
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core import signing
from django.db import connection
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from moldcare.pages.device import COOKIE
from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue

PIN = "4711"

# a form like one of the page's own: same address, same fields, handed in by the same outbox
FILL = """
([fields, {action, subject, photo, taps}]) => {
  const form = document.createElement("form");
  form.method = "post";
  form.setAttribute("action", action);
  Object.assign(form.dataset, {outbox: "sheet", subject, said: fields.said || "Order"});
  for (const [name, value] of Object.entries(fields)) {
    const input = document.createElement("input");
    Object.assign(input, {type: "hidden", name, value});
    if (name === "pin") input.dataset.seal = "";
    form.append(input);
  }
  if (photo) {
    const files = new DataTransfer();
    const bytes = Uint8Array.from(atob(photo), (sign) => sign.charCodeAt(0));
    files.items.add(new File([bytes], "vents.png", {type: "image/png"}));
    const input = document.createElement("input");
    Object.assign(input, {type: "file", name: "photo"});
    input.files = files.files;
    form.append(input);
  }
  const kept = new Promise((give) => form.addEventListener("outbox:kept", () => give(true)));
  document.body.append(form);
  for (let tap = 0; tap < taps; tap += 1) form.requestSubmit();
  return Promise.race([kept, new Promise((give) => setTimeout(() => give(false), 4000))]);
}
"""


@dataclass
class OutboxTablet:
    """One browser profile with a page, in front of whatever network there is."""

    context: BrowserContext
    home: str
    page: Page
    wrong: list[str] = field(default_factory=list)

    def go(self, path: str) -> None:
        """Open a page and wait until the outbox has had its first contact, or none."""
        self.page.goto(f"{self.home}{path}")

    def again(self) -> None:
        """Open another page in place of one that was closed or killed."""
        self.page = self.context.new_page()

    def fill(
        self,
        fields: dict[str, str],
        *,
        action: str,
        subject: str = "order-1001",
        photo: str = "",
        taps: int = 1,
    ) -> bool:
        """Send a form to the outbox; return whether it was kept."""
        where = {"action": action, "subject": subject, "photo": photo, "taps": taps}
        return bool(self.page.evaluate(FILL, [fields, where]))

    def entries(self) -> list[dict[str, Any]]:
        """Everything that is in the outbox."""
        found = self.page.evaluate(
            "store.entries().then((all) => all.map(({fields, ...rest}) => "
            "({...rest, fields: fields.map(([name, value]) => [name, String(value)])})))"
        )
        return list(found)

    def about(self, name: str) -> Any:
        """One thing that the tablet knows of itself."""
        return self.page.evaluate("(name) => store.about(name)", name)

    def send_now(self) -> None:
        """Let nothing wait for its pause."""
        self.page.evaluate(
            "(async () => { for (const one of await store.entries()) "
            "if (one.nextAt) await store.put({...one, nextAt: 0}); outbox.flush(); })()"
        )

    def until(self, expression: str, arg: Any = None, *, tries: int = 600) -> None:
        """Wait until something that the page has to look up is true."""
        for _try in range(tries):
            if self.page.evaluate(expression, arg):
                return
            # asked from here: the clock of the page may stand still
            threading.Event().wait(0.015)
        raise AssertionError(f"never true: {expression} {arg}; {self.entries()}")

    def wait_for(self, count: int, *, state: str = "", why: str | None = None) -> None:
        """Wait until so many entries (of a state, for a reason) are in the outbox."""
        self.until(
            "async ([count, state, why]) => (await store.entries()).filter((one) => (!state || "
            "one.state === state) && (why === null || one.why === why)).length === count",
            [count, state, why],
        )

    def ready(self) -> None:
        """Wait until the tablet has reached the server once and knows who is here."""
        self.until("async () => Boolean(await store.about('key') && (await store.about('here')))")

    def packed(self, path: str) -> None:
        """Wait until a page is in the pack."""
        self.until("async (path) => Boolean(await (await caches.open('pages')).match(path))", path)


def session_of(person: Person) -> str:
    """Return the name of a fresh session of a person."""
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.save()
    return str(session.session_key)


def sign_in(context: BrowserContext, home: str, person: Person, *, device: str = "one") -> None:
    """Let a person be signed in on a tablet, as after the sign-in page."""
    signer = signing.get_cookie_signer(salt=COOKIE)
    cookies: Sequence[Any] = [
        {"name": "sessionid", "value": session_of(person), "url": home},
        {"name": COOKIE, "value": signer.sign(device), "url": home},
    ]
    context.add_cookies(list(cookies))


def outbox_tablet(
    context: BrowserContext, home: str, *, person: Person | None = None, device: str = "one"
) -> OutboxTablet:
    """A tablet with an outbox; of somebody who is signed in, or of nobody."""
    if person is not None:
        sign_in(context, home, person, device=device)
    found = OutboxTablet(context=context, home=home, page=context.new_page())
    found.page.on("pageerror", lambda error: found.wrong.append(str(error)))
    return found


def bar_says(tablet: OutboxTablet, text: str) -> None:
    """Wait until the bar on top says something of the outbox."""
    expect(tablet.page.locator("#outbox")).to_contain_text(text)


def position(order: Order) -> str:
    """The key of the step that takes any words."""
    return f"{order.tasks.get().pk}-1"


def words(bench: OutboxTablet, order: Order, value: str, **more: str) -> bool:
    """Fill in the step that takes any words."""
    fields = {"do": "step", "step": position(order), "value": value, "said": f"Order: {value}"}
    return bench.fill(fields, action=f"/orders/{order.number}/sheet", **more)


def written(order: Order) -> list[str]:
    """What is written down at the step, in the order of arrival."""
    found = StepValue.objects.filter(order=order, kind="position").order_by("id")
    values = list(found.values_list("value", flat=True))
    connection.close()
    return values


def wait_until(is_true: Callable[[], bool]) -> None:
    """Wait until the server has done something."""
    for _try in range(500):
        if is_true():
            return
        threading.Event().wait(0.02)
    raise AssertionError("it never came to that")


def small_picture(number: int = 0) -> str:
    """A picture, another one for each number."""
    file = BytesIO()
    Image.new("RGB", (64, 48), (number, 90, 120)).save(file, "PNG")
    return base64.b64encode(file.getvalue()).decode()
