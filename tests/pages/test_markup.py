"""What every page has in common, read from the page as it is sent."""

from collections import Counter
from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest

from tests.pages.routes import routes, sample_path, signed_in
from tests.pages.small_world import World, enlarge, small_world

pytestmark = pytest.mark.once  # markup is the same whatever holds the rows

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "wbr"}
# elements whose end may be left out; the pages close everything else
LOOSE = {"html", "head", "body", "p", "li", "dt", "dd", "tr", "td", "th", "option"}


@dataclass
class Page(HTMLParser):
    """What a test asks of a page."""

    ids: Counter[str] = field(default_factory=Counter)
    headings: list[int] = field(default_factory=list)
    labels: set[str] = field(default_factory=set)
    fields: list[dict[str, str]] = field(default_factory=list)
    named: set[str] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    language: str = ""
    title: str = ""

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        if len(values) != len(attrs):
            self.faults.append(f"<{tag}> names an attribute twice")
        if "id" in values:
            self.ids[values["id"]] += 1
        if tag == "html":
            self.language = values.get("lang", "")
        if tag[0] == "h" and tag[1:].isdigit():
            self.headings.append(int(tag[1:]))
        if tag == "label" and "for" in values:
            self.labels.add(values["for"])
        if tag in {"input", "select", "textarea"} and values.get("type") not in {
            "hidden",
            "submit",
            "button",
        }:
            is_within = "label" in self.open
            self.fields.append({**values, "is_within": "yes" if is_within else ""})
        for name in ("aria-describedby", "aria-labelledby", "aria-controls"):
            self.named |= set(values.get(name, "").split())
        for name in values:
            if name == "style" or name.startswith("on"):
                self.faults.append(f"<{tag} {name}>")
        if tag == "script" and "src" not in values:
            self.faults.append("<script> without src")
        for name in ("src", "href"):
            if tag != "a" and values.get(name, "").startswith(("http:", "https:", "//")):
                self.faults.append(f"<{tag} {name}={values[name]}>")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        if self.open[-1:] == ["title"] and "svg" not in self.open:
            self.title += data

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open[-1] != tag and self.open[-1] in LOOSE:
            self.open.pop()
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> closes {self.open[-1:] or 'nothing'}")
        else:
            self.open.pop()

    def handle_comment(self, data: str) -> None:
        self.faults.append(f"a comment is sent: {data[:40]}")


def faults_of(html: str) -> list[str]:
    """What is wrong with a page."""
    page = Page()
    page.feed(html)
    page.close()
    faults = list(page.faults)
    faults += [f"id {name} is there {n} times" for name, n in page.ids.items() if n > 1]
    faults += [f"{name} is named and not there" for name in page.named - set(page.ids)]
    faults += [f"{tag} is not closed" for tag in page.open if tag not in LOOSE]
    if page.headings.count(1) != 1:
        faults.append(f"{page.headings.count(1)} first headings")
    for before, after in zip(page.headings, page.headings[1:], strict=False):
        if after > before + 1:
            faults.append(f"heading {after} follows heading {before}")
    if not page.language:
        faults.append("the page names no language")
    if not page.title.strip():
        faults.append("the page has no title")
    for each in page.fields:
        has_name = (
            each["is_within"]
            or each.get("id") in page.labels
            or each.get("aria-label")
            or each.get("aria-labelledby")
        )
        if not has_name:
            faults.append(f"field {each.get('name')} has no label")
    return faults


@pytest.mark.parametrize("role", ["technician", "manager"])
def test_every_page_is_whole(db: None, role: str) -> None:
    world: World = small_world()
    enlarge(world, by=1)
    problems = {}
    for route in routes():
        if route.is_admin:
            continue
        answer = signed_in(role, world=world).get(sample_path(route, world=world))
        kind = answer.headers.get("Content-Type", "")
        if answer.status_code == 200 and kind.startswith("text/html"):
            html = answer.getvalue().decode()
            # a part of a page has no frame of its own
            if "<html" in html and faults_of(html):
                problems[route.name] = faults_of(html)
    assert not problems


@pytest.mark.parametrize(
    ("html", "fault"),
    [
        ("<html lang=en><title>T</title><h1>a</h1><h1>b</h1>", "2 first headings"),
        ("<html lang=en><title>T</title><h1>a</h1><h3>b</h3>", "heading 3 follows heading 1"),
        ("<html><title>T</title><h1>a</h1>", "the page names no language"),
        ("<html lang=en><h1>a</h1>", "the page has no title"),
        ("<html lang=en><title>T</title><h1>a</h1><input name=x>", "field x has no label"),
        ("<html lang=en><title>T</title><h1 style='a'>a</h1>", "<h1 style>"),
        ("<html lang=en><title>T</title><h1>a</h1><div>", "div is not closed"),
        ("<html lang=en><title>T</title><h1>a</h1><i id=a></i><i id=a></i>", "id a is there 2"),
    ],
)
def test_a_fault_is_seen(html: str, fault: str) -> None:
    assert any(each.startswith(fault) for each in faults_of(html))


def test_a_whole_page_has_no_fault() -> None:
    html = (
        "<!doctype html><html lang=en><head><meta charset=utf-8><title>T</title></head><body>"
        "<h1>a</h1><h2>b</h2><ul><li>c<li>d</ul><label>e <input name=x></label>"
        "<svg><title>f</title><path d='M0 0'/></svg></body></html>"
    )
    assert faults_of(html) == []
