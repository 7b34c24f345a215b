import collections
import html
import io
import re
from dataclasses import fields, is_dataclass

import pypdf
import pytest

from pullproof.report.figures import Drawing
from pullproof.report.html import to_html
from pullproof.report.pdf import PICTURE_WIDTH, to_pdf, to_png

NUMBER = re.compile(r"\d+(?:\.\d+)?")


@pytest.fixture(scope="module")
def paper(report) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(to_pdf(report)))


def squeezed(text: str) -> str:
    """Without spaces and places to break, which lines on paper move about."""
    return re.sub(r"[\s\u200b\u2060]", "", text)


def texts(part):
    """Every text of the model; figures and what only the picture says left out."""
    if isinstance(part, str):
        yield part
    elif isinstance(part, tuple):
        for item in part:
            yield from texts(item)
    elif is_dataclass(part) and not isinstance(part, Drawing):
        for field in fields(part):
            if field.name not in ("picture_footer", "picture", "tone", "kind"):
                yield from texts(getattr(part, field.name))


def numbers(text: str) -> collections.Counter[str]:
    return collections.Counter(NUMBER.findall(text))


def visible(page: str) -> str:
    """Text of the body of an HTML page, figures left out."""
    body = page.partition("<body>")[2]
    body = re.sub(r"<svg.*?</svg>", " ", body, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", body))


def test_page_and_paper_hold_every_number_of_the_model(realistic_report) -> None:
    """Whoever prints and whoever shares the page hold the same numbers, each as often as the model says it."""
    model = numbers(" ".join(texts(realistic_report)))
    assert sum(model.values()) > 150
    assert numbers(visible(to_html(realistic_report))) == model
    paper = pypdf.PdfReader(io.BytesIO(to_pdf(realistic_report)))
    printed = numbers(" ".join(page.extract_text() for page in paper.pages))
    assert model - printed == collections.Counter()


def test_page_and_paper_hold_every_text_of_the_model(report, paper) -> None:
    """No text is lost or changed on its way to page or paper, special signs of either included."""
    page = squeezed(visible(to_html(report)))
    printed = squeezed("".join(page.extract_text() for page in paper.pages))
    for text in texts(report):
        assert squeezed(text) in page, text
        if "`" not in text and "ff" not in text:
            assert pieces_in_order(text, printed), text


def pieces_in_order(text: str, printed: str) -> bool:
    """All words of a text stand on the paper; a page may end between two of them."""
    return all(squeezed(word) in printed for word in text.split())


def test_the_paper_is_tagged_and_says_what_it_is(paper, report) -> None:
    """The PDF is tagged, names its title and language, and declares PDF/UA-1."""
    root = paper.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert paper.metadata.title == report.title
    assert b"pdfuaid:part>1<" in root["/Metadata"].get_data().replace(b" ", b"")


def structure(element, kind):
    """Elements of the tag tree of one kind."""
    element = element.get_object()
    if not isinstance(element, pypdf.generic.DictionaryObject):
        return
    if element.get("/S") == kind:
        yield element
    children = element.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        if not isinstance(child, int):
            yield from structure(child, kind)


def drawn(part):
    if isinstance(part, Drawing):
        yield part
    elif isinstance(part, tuple):
        for item in part:
            yield from drawn(item)
    elif is_dataclass(part):
        for field in fields(part):
            yield from drawn(getattr(part, field.name))


def test_every_figure_on_paper_has_its_words(paper, report) -> None:
    """Each figure of the model is on the paper with an alternative text."""
    figures = [element.get("/Alt") for element in structure(paper.trailer["/Root"]["/StructTreeRoot"], "/Figure")]
    assert sorted(figures) == sorted(f"{drawing.title}. {drawing.description}" for drawing in drawn(report))


def test_fonts_come_with_the_paper(paper) -> None:
    """Every font is embedded, so that the paper looks the same everywhere."""
    for page in paper.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_the_same_report_gives_the_same_paper(realistic_report) -> None:
    """Nothing on paper depends on the clock or on chance."""
    assert to_pdf(realistic_report) == to_pdf(realistic_report)


def test_the_picture_is_as_wide_as_promised(report) -> None:
    """The picture is a PNG, three pixels for each of a phone's."""
    picture = to_png(report)
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(picture[16:20], "big") == PICTURE_WIDTH


def test_the_picture_of_a_usual_report_is_not_endless(realistic_report) -> None:
    """A chat shrinks what is too tall: the picture stays below five times its width."""
    picture = to_png(realistic_report)
    assert int.from_bytes(picture[20:24], "big") < 5 * PICTURE_WIDTH
