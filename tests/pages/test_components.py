import re
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django import forms
from django.template.loader import get_template, render_to_string

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "templates"
COMPONENTS = sorted((TEMPLATES / "components").glob("_*.html"))
STATES = {
    "not_due": "Not due",
    "due_soon": "Due soon",
    "due": "Due",
    "overdue": "Overdue",
    "past_limit": "Past limit",
    "waiting": "Waiting",
    "deferred": "Deferred",
    "unsure": "Unsure",
}


class Elements(HTMLParser):
    """All elements of a text with their attributes, and which ones were left open."""

    VOID = frozenset({"meta", "link", "input", "br", "img", "hr"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.all: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.all.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.all.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def first(self, tag: str) -> dict[str, str | None]:
        return next(attributes for name, attributes in self.all if name == tag)

    def ids(self) -> list[str | None]:
        return [attributes["id"] for _, attributes in self.all if "id" in attributes]


class ReadingForm(forms.Form):
    value = forms.CharField(label="Reading", help_text="As it stands.")
    source = forms.ChoiceField(
        label="Source",
        widget=forms.RadioSelect,
        choices=[("counter", "at the counter"), ("paper", "from paper")],
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea)
    estimated = forms.BooleanField(label="Estimated", required=False)


def component(name: str, /, **context: Any) -> str:
    return render_to_string(f"components/_{name}.html", context)


def wrong_form() -> ReadingForm:
    form = ReadingForm({"value": "<b>48201"})
    form.add_error("value", "It goes backwards.")
    return form


@pytest.mark.parametrize("path", COMPONENTS, ids=lambda path: path.name)
def test_each_component_compiles_and_says_what_it_needs(path: Path) -> None:
    get_template(f"components/{path.name}")
    comment = re.search(r"{% comment %}(.*?){% endcomment %}", path.read_text(), re.DOTALL)
    assert comment is not None
    assert "ontext" in comment.group(1)


@pytest.mark.parametrize(
    "path", [*TEMPLATES.glob("*.html"), *COMPONENTS], ids=lambda path: path.name
)
def test_nothing_a_strict_policy_would_stop(path: Path) -> None:
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", path.read_text(), flags=re.DOTALL)
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|hx-on|javascript:|js:", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"https?://", text)


@pytest.mark.parametrize(("state", "word"), STATES.items())
def test_each_state_has_its_word_and_its_edge(state: str, word: str) -> None:
    text = component("tag", state=state)
    assert re.sub(r"<[^>]+>", "", text).strip() == word
    css = (ROOT / "static" / "css" / "components" / "tag.css").read_text()
    assert state == "not_due" or f".tag--{state} {{" in css


def test_edges_of_states_differ_without_color() -> None:
    css = (ROOT / "static" / "css" / "components" / "tag.css").read_text()
    edges = {
        state: re.sub(r"var\(--[a-z0-9-]+\)", "", block)
        for state, block in re.findall(r"\.tag--([a-z_]+) \{([^}]*)\}", css)
        if state in STATES
    }
    assert len(set(edges.values())) == len(STATES) - 1


def test_a_plate_keeps_leading_zeros_and_escapes_what_was_typed() -> None:
    assert ">0417</span>" in component("plate", number="0417", href="/molds/1/")
    assert "<b>" not in component("plate", number="<b>1")


def test_a_plate_without_address_is_no_link() -> None:
    assert "<a" not in component("plate", number="0417")


def test_a_long_number_is_marked_so_that_it_is_not_cut() -> None:
    assert "plate--long" in component("plate", number="SW-2207/B-104")
    assert "plate--wide" in component("plate", number="W-2024-17")
    assert "plate--" not in component("plate", number="M-1002")


def test_a_whole_number_field_brings_the_number_pad_and_never_steps() -> None:
    form = ReadingForm({"value": "0417"})
    field = Elements(component("field", field=form["value"], kind="whole")).first("input")
    assert (field["type"], field["inputmode"], field["value"]) == ("text", "numeric", "0417")


def test_a_decimal_field_brings_the_decimal_pad() -> None:
    text = component("field", field=ReadingForm()["value"], kind="decimal")
    field = Elements(text).first("input")
    assert (field["inputmode"], field["value"]) == ("decimal", "")


def test_the_unit_is_part_of_a_fields_name() -> None:
    text = component("field", field=ReadingForm()["value"], kind="whole", unit="cycles")
    label = re.search(r'<label[^>]*for="id_value">(.*?)</label>', text, re.DOTALL)
    assert label is not None
    assert "cycles" in label.group(1)


@pytest.mark.parametrize("kind", ["whole", "decimal", ""])
def test_help_and_error_are_tied_to_their_field(kind: str) -> None:
    elements = Elements(component("field", field=wrong_form()["value"], kind=kind))
    field = elements.first("input")
    assert field["aria-invalid"] == "true"
    assert set((field["aria-describedby"] or "").split()) <= set(elements.ids())
    assert field["aria-describedby"] == "id_value_helptext id_value_error"


def test_what_was_typed_comes_back_escaped() -> None:
    text = component("field", field=wrong_form()["value"], kind="whole")
    assert "&lt;b&gt;48201" in text
    assert "<b>" not in text


def test_choices_are_a_named_group_of_labeled_boxes() -> None:
    text = component("field", field=ReadingForm()["source"])
    elements = Elements(text)
    assert "<legend" in text
    boxes = [attributes["id"] for tag, attributes in elements.all if tag == "input"]
    labels = [attributes.get("for") for tag, attributes in elements.all if tag == "label"]
    assert boxes == labels


def test_each_error_leads_to_a_place_that_is_on_the_page() -> None:
    form = wrong_form()
    page = component("errors", form=form) + "".join(
        component("field", field=form[name], kind=kind)
        for name, kind in (("value", "whole"), ("source", ""), ("note", ""), ("estimated", ""))
    )
    elements = Elements(page)
    goals = [
        (attributes["href"] or "").removeprefix("#")
        for tag, attributes in elements.all
        if tag == "a"
    ]
    assert len(goals) == 2
    assert set(goals) <= set(elements.ids())


def test_a_form_without_errors_has_no_summary() -> None:
    assert component("errors", form=ReadingForm()).strip() == ""


def test_the_pad_has_all_digits_and_hides_without_script() -> None:
    elements = Elements(component("pad", pad_for="id_value", decimal=","))
    keys = {attributes.get("data-key") for tag, attributes in elements.all if tag == "button"}
    assert keys == {*"0123456789", ",", "back"}
    assert "hidden" in elements.first("div")


def test_the_pad_offers_a_sign_where_it_is_asked_for() -> None:
    assert 'data-key="-"' in component("pad", pad_for="id_value", minus=True)
    assert 'data-key="-"' in component("pad", pad_for="id_value", decimal=".", minus=True)
    assert 'data-key="-"' not in component("pad", pad_for="id_value", decimal=".")


def test_grades_are_radio_buttons_that_say_what_each_means() -> None:
    grades = [("clean", "clean", "Less than a third."), ("heavy", "heavy", "From three quarters.")]
    elements = Elements(component("grade", name="found", grades=grades, chosen="heavy"))
    radios = [attributes for tag, attributes in elements.all if tag == "input"]
    assert [radio["type"] for radio in radios] == ["radio", "radio"]
    assert ["checked" in radio for radio in radios] == [False, True]
    assert {radio["aria-describedby"] for radio in radios} <= set(elements.ids())


def test_the_message_region_is_there_before_any_message() -> None:
    region = Elements(component("messages")).first("div")
    assert (region["id"], region["role"], region["aria-live"]) == ("messages", "status", "polite")


@pytest.mark.parametrize("name", ["400", "403", "404", "500"])
def test_error_pages_stand_alone(name: str, django_assert_num_queries: Any, db: None) -> None:
    with django_assert_num_queries(0):
        text = get_template(f"{name}.html").render()
    elements = Elements(text)
    assert [tag for tag, _ in elements.all].count("h1") == 1
    assert elements.open == []
    assert ("a", "/") in [(tag, attributes.get("href")) for tag, attributes in elements.all]
    assert "Reference" not in text
    assert "7K2" in get_template(f"{name}.html").render({"reference": "7K2"})


def test_the_page_around_a_page_is_whole() -> None:
    person = SimpleNamespace(
        name="B. <Kessel>", is_authenticated=True, get_role_display=lambda: "lead"
    )
    text = render_to_string(
        "base.html",
        {
            "request": SimpleNamespace(user=person),
            "page_title": "Shift",
            "nav_here": "shift",
            "csrf_token": "abc",
        },
    )
    elements = Elements(text)
    assert elements.open == []
    assert len(elements.ids()) == len(set(elements.ids()))
    assert elements.first("a")["href"] == "#content"
    assert "content" in elements.ids()
    assert "<Kessel>" not in text
    assert elements.first("title") == {}
    assert '"includeIndicatorStyles":false' in text
    assert '"allowEval":false' in text
