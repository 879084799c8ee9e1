"""The small scripts, each on a page of its own, served over plain http as on a plant's net."""

import re
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Page, Request, Route, expect

STATIC = Path(__file__).resolve().parents[2] / "static"
ORIGIN = "http://plant.example"
HTMX_SETTLED = (
    "(part) => document.dispatchEvent("
    "new CustomEvent('htmx:afterSettle', {detail: {elt: document.querySelector(part)}}))"
)


def show(page: Page, body: str, *scripts: str, refusal: str = "") -> list[Request]:
    """Open a page with this body and these scripts; return the list of forms it sends."""
    sent: list[Request] = []
    tags = "".join(f'<script defer src="/js/{name}.js"></script>' for name in scripts)
    html = f"<!doctype html><html lang=en><title>t</title>{tags}<body>{body}</body></html>"

    def answer(route: Route) -> None:
        request = route.request
        name = request.url.rsplit("/", 1)[1]
        if request.method == "POST" and refusal:
            sent.append(request)
            route.fulfill(status=422, body=refusal, content_type="text/html")
        elif request.method == "POST":
            sent.append(request)
            route.fulfill(status=204)
        elif name == "htmx.js":
            source = files("django_htmx") / "static" / "django_htmx" / "htmx-2.min.js"
            route.fulfill(body=source.read_text(), content_type="text/javascript")
        elif name.endswith(".js"):
            route.fulfill(path=STATIC / "js" / name)
        elif request.url == f"{ORIGIN}/":
            route.fulfill(
                body=html,
                content_type="text/html",
                headers={"Content-Security-Policy": "default-src 'self'"},
            )
        else:
            route.fulfill(status=404)

    page.route("**/*", answer)
    page.goto(f"{ORIGIN}/")
    return sent


def tap_twice(page: Page) -> None:
    """Press the button twice before anything can be answered."""
    page.get_by_role("button").evaluate("(button) => { button.click(); button.click(); }")


FORM = (
    '<form method="post" action="/write"><input name="hand_in" type="hidden" value="{hand_in}">'
    '<input name="value" value="1"><button name="do" value="write">Write</button></form>'
)


def test_a_form_that_is_tapped_twice_is_sent_once_with_a_number(page: Page) -> None:
    sent = show(page, FORM.format(hand_in=""), "once")
    assert page.evaluate("isSecureContext") is False
    tap_twice(page)
    expect(page.get_by_role("button")).to_have_attribute("aria-busy", "true")
    assert len(sent) == 1
    body = sent[0].post_data or ""
    # RFC 9562, version 4: the thirteenth digit is 4, the seventeenth 8, 9, a or b
    number = re.search(r"hand_in=([0-9a-f-]+)", body)
    assert number is not None
    assert re.fullmatch(
        r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", number.group(1)
    )
    assert "do=write" in body  # the pressed button is sent along


def test_a_number_that_the_server_gave_is_kept(page: Page) -> None:
    sent = show(page, FORM.format(hand_in="given"), "once")
    page.get_by_role("button").click()
    expect(page.get_by_role("button")).to_have_attribute("aria-busy", "true")
    assert "hand_in=given" in (sent[0].post_data or "")


def test_a_form_may_be_sent_again_after_a_lost_answer_with_the_same_number(page: Page) -> None:
    sent = show(page, FORM.format(hand_in=""), "once")
    button = page.get_by_role("button")
    button.click()
    page.evaluate(
        "document.querySelector('form')"
        ".dispatchEvent(new CustomEvent('htmx:afterRequest', {bubbles: true}))"
    )
    expect(button).not_to_have_attribute("aria-busy", "true")
    button.click()
    expect(button).to_have_attribute("aria-busy", "true")
    assert len(sent) == 2
    assert sent[0].post_data == sent[1].post_data


PAD = (
    '<input id="v" inputmode="decimal"><div data-pad-for="v" hidden>'
    + "".join(
        f'<button type="button" data-key="{key}">{key}</button>' for key in ("7", ",", "-", "back")
    )
    + "</div>"
)


def test_the_pad_types_into_its_field_and_keeps_the_keyboard_away(page: Page) -> None:
    show(page, PAD, "pad")
    for key in ("7", "7", ",", "7", "-", "back", "7"):
        page.locator(f'[data-key="{key}"]').click()
    expect(page.locator("#v")).to_have_value("-77,7")
    expect(page.locator("#v")).to_have_attribute("inputmode", "none")


def test_the_sign_key_turns_the_sign_both_ways(page: Page) -> None:
    show(page, PAD, "pad")
    for key in ("7", "-", "-"):
        page.locator(f'[data-key="{key}"]').click()
    expect(page.locator("#v")).to_have_value("7")


@pytest.mark.parametrize("how", ["wheel", "arrows"])
def test_a_number_does_not_change_by_wheel_or_arrow(page: Page, how: str) -> None:
    show(page, '<input type="number" value="12400"><p>long</p>', "wheel")
    field = page.locator("input")
    field.click()
    if how == "wheel":
        page.mouse.wheel(0, 300)
        page.mouse.wheel(0, -100)
    else:
        for key in ("ArrowUp", "ArrowUp", "ArrowUp", "ArrowDown"):
            page.keyboard.press(key)
    # typing afterwards shows that the events have been handled
    page.keyboard.press("End")
    page.keyboard.type("7")
    expect(field).to_have_value("124007")


def test_the_foot_counts_what_is_ticked(page: Page) -> None:
    boxes = "".join(
        f'<input type="checkbox" data-minutes="{minutes}" data-mold="{mold}">'
        for minutes, mold in ((40, "0417"), (30, "0417"), (25, "0291"))
    )
    show(
        page,
        f'<form data-ticked>{boxes}<output data-ticked-say data-none="none" '
        f'data-one="one, {{minutes}}" data-many="{{tasks}} on {{molds}}, {{minutes}}">'
        "</output></form>",
        "ticked",
    )
    said = page.locator("output")
    expect(said).to_have_text("none")
    page.locator("input").nth(0).check()
    expect(said).to_have_text("one, 40 min")
    page.locator("input").nth(1).check()
    page.locator("input").nth(2).check()
    expect(said).to_have_text("3 on 2, 1 h 35 min")


def test_after_a_refusal_the_focus_goes_to_the_errors(page: Page) -> None:
    show(
        page,
        '<main><div class="errors" tabindex="-1"><a href="#v">v</a></div>'
        '<input id="v" aria-invalid="true"></main>',
        "focus",
    )
    expect(page.locator(".errors")).to_be_focused()
    page.get_by_role("link").click()
    expect(page.locator("#v")).to_be_focused()


def test_an_error_of_a_group_leads_into_the_group(page: Page) -> None:
    show(
        page,
        '<div class="errors" tabindex="-1"><a href="#g">g</a></div>'
        '<fieldset id="g"><input type="radio"></fieldset>',
        "focus",
    )
    page.get_by_role("link").click()
    expect(page.locator("input")).to_be_focused()


def test_after_a_step_the_focus_goes_to_the_next_one(page: Page) -> None:
    show(page, '<main><h2 id="next" tabindex="-1" data-focus>Next</h2></main>', "focus")
    page.evaluate(HTMX_SETTLED, "main")
    expect(page.locator("#next")).to_be_focused()


def test_a_control_that_was_replaced_gets_the_focus_back(page: Page) -> None:
    show(page, '<main><button id="tick">Tick</button></main>', "focus")
    page.locator("#tick").focus()
    page.evaluate("document.querySelector('main').innerHTML = '<button id=\"tick\">Done</button>'")
    page.evaluate(HTMX_SETTLED, "main")
    expect(page.locator("#tick")).to_be_focused()


def test_a_refused_part_is_shown_once_and_takes_the_focus(page: Page) -> None:
    base = (STATIC.parent / "templates" / "base.html").read_text()
    config = re.search(r'<meta name="htmx-config"[^>]*>', base)
    assert config is not None
    form = (
        '<form id="f" hx-post="/write" hx-swap="outerHTML" method="post" action="/write">{inner}'
        '<input name="hand_in" value="n1"><button>Write</button></form>'
    )
    errors = '<div class="errors" tabindex="-1">Goes backwards.</div>'
    sent = show(
        page,
        config.group(0) + form.format(inner=""),
        "htmx",
        "once",
        "focus",
        refusal=form.format(inner=errors),
    )
    tap_twice(page)
    expect(page.locator(".errors")).to_be_focused()
    assert len(sent) == 1
    with page.expect_response(f"{ORIGIN}/write"):
        page.get_by_role("button").click()
    expect(page.locator(".errors")).to_have_count(1)
    expect(page.locator(".errors")).to_be_focused()
    assert len(sent) == 2


def test_a_lost_net_is_said_in_the_region_that_was_there(page: Page) -> None:
    show(page, '<div id="messages" role="status" data-no-net="No answer."></div>', "net")
    page.evaluate("document.dispatchEvent(new CustomEvent('htmx:sendError'))")
    expect(page.get_by_role("status")).to_have_text("No answer.")


def test_night_that_was_chosen_is_still_there_on_the_next_page(page: Page) -> None:
    switch = (
        "<div data-theme-switch hidden>"
        '<button data-theme-choice="dark">Night</button>'
        '<button data-theme-choice="">Device</button></div>'
    )
    show(page, switch, "theme")
    page.get_by_role("button", name="Night").click()
    page.reload()
    html = page.locator("html")
    expect(html).to_have_attribute("data-theme", "dark")
    expect(page.get_by_role("button", name="Night")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Device").click()
    expect(html).not_to_have_attribute("data-theme", "dark")


def test_a_menu_closes_by_escape_and_gives_the_focus_back(page: Page) -> None:
    show(page, "<details data-drop><summary>Menu</summary><a href='#'>one</a></details>", "drop")
    page.locator("summary").click()
    page.get_by_role("link").focus()
    page.keyboard.press("Escape")
    expect(page.locator("details")).not_to_have_attribute("open", "")
    expect(page.locator("summary")).to_be_focused()


def test_the_wall_refreshes_itself_and_says_when_the_net_is_lost(page: Page) -> None:
    page.clock.install()
    show(
        page,
        '<p role="status" data-wall-state data-lost="Not reached."></p>'
        '<div data-wall data-seconds="60"><b>old</b></div>',
        "wall",
    )
    is_up = True

    def answer(route: Route) -> None:
        if is_up:
            route.fulfill(body="<div data-wall><b>new</b></div>", content_type="text/html")
        else:
            route.abort()

    page.route(f"{ORIGIN}/", answer)
    page.clock.run_for(61_000)
    expect(page.locator("b")).to_have_text("new")
    is_up = False
    page.clock.run_for(61_000)
    expect(page.get_by_role("status")).to_have_text("Not reached.")
    expect(page.locator("b")).to_have_text("new")
    is_up = True
    page.clock.run_for(61_000)
    expect(page.get_by_role("status")).to_have_text("")
