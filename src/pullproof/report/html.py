"""The report as one HTML file that needs nothing else: no network, no script, light and dark, phone and print."""

import itertools
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from pullproof.report.figures import Drawing, to_svg
from pullproof.report.model import Report

__all__ = ["to_html"]

_TEMPLATES: Final = Environment(
    loader=PackageLoader("pullproof.report", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def to_html(report: Report) -> str:
    """The whole report as an HTML document; whatever names and headers hold is shown as text, never as markup."""
    numbers = itertools.count(1)

    def picture(drawing: Drawing) -> Markup:
        return Markup(to_svg(drawing, f"figure{next(numbers)}", for_page=True))  # noqa: S704  (our own SVG, escaped)

    return _TEMPLATES.get_template("report.html").render(report=report, picture=picture)
