"""The number pad of the round: one pad for all fields, typing where the last tap was."""

from playwright.sync_api import Page, expect

from tests.pages.test_scripts import show

ROUND = (
    '<form id="round"><input id="a" inputmode="numeric" data-pad-field>'
    '<input id="b" inputmode="numeric" data-pad-field></form>'
    '<div data-pad-for="" data-pad-form="round" hidden>'
    '<button type="button" data-key="7">7</button>'
    '<button type="button" data-key="back">back</button></div>'
)


def test_one_pad_serves_all_fields_of_a_form(page: Page) -> None:
    show(page, ROUND, "pad")
    first, second = page.locator("#a"), page.locator("#b")
    seven = page.get_by_role("button", name="7")
    expect(first).to_have_attribute("inputmode", "none")
    expect(second).to_have_attribute("inputmode", "none")
    seven.click()
    expect(first).to_have_value("7")
    second.focus()
    seven.click()
    seven.click()
    expect(second).to_have_value("77")
    expect(second).to_have_attribute("data-pad-here", "")
    expect(first).not_to_have_attribute("data-pad-here", "")
    page.get_by_role("button", name="back").click()
    expect(second).to_have_value("7")
    expect(first).to_have_value("7")


def test_where_the_pad_is_not_to_be_seen_the_phones_own_keyboard_comes(page: Page) -> None:
    show(page, ROUND.replace(" hidden>", ' hidden class="pad">'), "pad")
    page.evaluate("document.querySelector('.pad').setAttribute('hidden', '')")
    page.locator("#a").focus()
    expect(page.locator("#a")).to_have_attribute("inputmode", "numeric")
