import itertools
import re
from html.parser import HTMLParser

import pytest

from pullproof.report.html import to_html

VOID = {"meta", "br", "col", "link", "input", "hr", "img"}


class Page(HTMLParser):
    """The elements of a page in order, with their attributes and text; refuses tags that do not nest."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None], list[str]]] = []
        self.open: list[tuple[str, dict[str, str | None], list[str]]] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag, attrs):
        element = (tag, dict(attrs), [])
        self.elements.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), []))

    def handle_endtag(self, tag):
        assert self.open[-1][0] == tag, f"</{tag}> closes <{self.open[-1][0]}>"
        self.open.pop()

    def handle_data(self, data):
        for _, _, text in self.open:
            text.append(data)

    def all(self, *tags):
        return [element for element in self.elements if element[0] in tags]

    def texts(self, *tags):
        return ["".join(text).strip() for _, _, text in self.all(*tags)]


@pytest.fixture(scope="module")
def text(report) -> str:
    return to_html(report)


@pytest.fixture(scope="module")
def page(text) -> Page:
    return Page(text)


def test_needs_nothing_else(text, page) -> None:
    """The file loads nothing: no script, link, picture or style from elsewhere, and it forbids itself to."""
    assert not page.all("script", "link", "img", "iframe", "object", "image")
    style = "".join(page.texts("style"))
    assert "url(" not in style
    assert "@import" not in style
    for tag, attributes, _ in page.elements:
        assert not {"src", "srcset", "onload", "onclick"} & set(attributes), tag
        assert attributes.get("href", "#").startswith("#"), tag
    policy = [attributes["content"] for _, attributes, _ in page.all("meta") if "http-equiv" in attributes]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_headings_stand_in_order(page) -> None:
    """One first heading, and no level is skipped on the way down."""
    levels = [int(tag[1]) for tag, _, _ in page.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_language_title_and_width_are_said(page, report) -> None:
    """A screen reader knows the language, a tab its title, a phone the width, a browser both colour schemes."""
    assert page.all("html")[0][1]["lang"] == "en"
    assert page.texts("title")[0] == report.title
    meta = {attributes.get("name"): attributes.get("content") for _, attributes, _ in page.all("meta")}
    assert meta["viewport"] == "width=device-width, initial-scale=1"
    assert meta["color-scheme"] == "light dark"
    assert "prefers-color-scheme: dark" in "".join(page.texts("style"))


def test_table_headings_have_a_scope(page) -> None:
    """Every heading of a table says whether it heads a column or a row; every table has a caption."""
    scopes = [attributes.get("scope") for _, attributes, _ in page.all("th")]
    assert set(scopes) <= {"col", "row"}
    assert len(page.all("caption")) == len(page.all("table"))
    assert all(page.texts("caption"))


def test_identifiers_are_unique_and_found(text, page) -> None:
    """No identifier stands twice, figures included, and every reference leads somewhere."""
    identifiers = [attributes["id"] for _, attributes, _ in page.elements if "id" in attributes]
    assert len(identifiers) == len(set(identifiers))
    wanted = {name for _, attributes, _ in page.elements for name in (attributes.get("aria-labelledby") or "").split()}
    wanted |= {first or second for first, second in re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', text)}
    assert wanted <= set(identifiers)


def test_every_figure_speaks(page) -> None:
    """A figure has a role, and a title and description that are not empty."""
    for _, attributes, _ in page.all("svg"):
        assert attributes["role"] == "img"
        assert attributes["aria-labelledby"]
    assert len(page.texts("desc")) == len(page.all("svg"))
    assert all(page.texts("desc"))


def test_names_are_shown_and_never_obeyed(page, report) -> None:
    """Whatever a car, file or reason is called, the page shows exactly that."""
    assert page.texts("h1") == [report.title]
    shown = [" ".join(text.split()) for text in page.texts("p", "li", "span", "h3", "dd", "small")]
    assert " ".join(report.headline.sentence.split()) in shown
    assert not page.all("b")


@pytest.fixture(scope="module")
def style(realistic_report) -> str:
    return "".join(Page(to_html(realistic_report)).texts("style"))


def _luminance(colour: str) -> float:
    """Relative luminance of the Web Content Accessibility Guidelines 2.2, with the sRGB threshold as printed there."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "soft", "before", "after", "warn", "fail"])
def test_text_can_be_read(style, scheme, role) -> None:
    """Text has a contrast of 4.5 to 1 to its ground in both schemes [WCAG 2.2, success criterion 1.4.3]."""
    light, dark = re.findall(r":root \{(.*?)\}", style, re.DOTALL)[:2]
    colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})\b", light))
    if scheme == "dark":
        colours |= dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})\b", dark))
    for ground in ("paper", "square") if role in ("ink", "soft") else ("paper",):
        bright, dim = sorted((_luminance(colours[role]), _luminance(colours[ground])), reverse=True)
        assert (bright + 0.05) / (dim + 0.05) >= 4.5
