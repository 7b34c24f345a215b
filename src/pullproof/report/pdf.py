"""The report on paper and as a picture, both set by typst from one source; fonts come with the packages."""

import importlib.resources
import itertools
import json
import re
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Final, Literal, TypeAlias

import matplotlib
import typst

from pullproof.report.figures import Drawing, to_svg
from pullproof.report.model import Report

__all__ = ["PICTURE_WIDTH", "to_pdf", "to_png"]

PICTURE_WIDTH: Final = 1080
"""Width of the picture [px]: three pixels for each one of a phone's page, so that small print stays sharp."""

_PAGE_WIDTH: Final = 375.0
"""Width of the picture's page [pt], as the template sets it."""

_LONG_WORD: Final = re.compile(r"\S{18,}")
_BREAK: Final = "\N{ZERO WIDTH SPACE}"
_NO_BREAK: Final = "\N{WORD JOINER}"


def to_pdf(report: Report) -> bytes:
    """The whole report as a tagged PDF (PDF/UA-1)."""
    return _compiled(report, "paper", "pdf", pdf_standards="ua-1")


def to_png(report: Report) -> bytes:
    """The main things as one tall picture, for a chat: readable at the width of a phone."""
    return _compiled(report, "picture", "png", ppi=72 * PICTURE_WIDTH / _PAGE_WIDTH)


def _compiled(
    report: Report,
    layout: Literal["paper", "picture"],
    kind: Literal["pdf", "png"],
    *,
    pdf_standards: Literal["ua-1"] | None = None,
    ppi: float | None = None,
) -> bytes:
    source = importlib.resources.files("pullproof.report").joinpath("templates", "report.typ").read_bytes()
    # Only fonts that come with the packages: the same paper on every machine.
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(Path(matplotlib.get_data_path(), "fonts", "ttf"))])
    data = json.dumps(_data(report, itertools.count(1)), allow_nan=False)
    inputs = {"report": data, "title": report.title, "layout": layout}
    return typst.compile(
        source,
        font_paths=fonts,
        ignore_system_fonts=True,
        sys_inputs=inputs,
        format=kind,
        pdf_standards=pdf_standards,
        ppi=ppi,
    )


Data: TypeAlias = "dict[str, Data] | list[Data] | str | float | bool | None"


def _data(part: object, numbers: "itertools.count[int]") -> Data:
    """The model as what JSON can hold; a figure becomes its SVG and its alternative text."""
    if isinstance(part, Drawing):
        svg = to_svg(part, f"figure{next(numbers)}", for_page=False)
        return {"svg": svg, "alt": f"{part.title}. {part.description}"}
    if is_dataclass(part):
        data = {field.name: _data(getattr(part, field.name), numbers) for field in fields(part)}
        kind = getattr(part, "kind", None)
        return data if kind is None else {**data, "kind": kind}
    if isinstance(part, tuple):
        return [_data(item, numbers) for item in part]
    if part is None or isinstance(part, bool | int | float):
        return part
    return _breakable(str(part))


def _breakable(text: str) -> str:
    """Places to break for words that no line can hold, such as the names of files; none inside a unit."""
    text = text.replace("/s", f"{_NO_BREAK}/{_NO_BREAK}s")
    return _LONG_WORD.sub(lambda word: _BREAK.join(re.findall(r".{1,12}?(?:[_./-]|$)|.{12}", word[0])), text)
