"""SVG as a drawing library writes it, made lean and fit to stand among others in one page."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from typing import Final

__all__ = ["lean_svg"]

SVG: Final = "http://www.w3.org/2000/svg"
LINK: Final = "{http://www.w3.org/1999/xlink}href"
REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")

ET.register_namespace("", SVG)


def lean_svg(source: bytes, name: str, title: str, description: str, variables: Mapping[str, str]) -> str:
    """`source` without what a page does not need, and with what it does.

    Identifiers start with `name`, those that nothing refers to go, as do metadata and style sheets that would reach
    beyond the figure. A title and a description stand first, for those who cannot see it. With `variables`, colours
    become what they map to, and size and type are left to the page.
    """
    root = ET.fromstring(source)  # noqa: S314  (our own renderer's output, not somebody's file)
    _drop_foreign(root)
    _rename(root, name)
    for element in root.iter():
        _slim(element, variables)
    root.attrib.pop("version", None)
    if variables:
        root.attrib.pop("width", None)
        root.attrib.pop("height", None)
    root.set("role", "img")
    root.set("aria-labelledby", f"{name}-title {name}-desc")
    root.set("style", "stroke-linejoin:round;stroke-linecap:butt")
    for place, (tag, text) in enumerate((("title", title), ("desc", description))):
        element = ET.Element(f"{{{SVG}}}{tag}", {"id": f"{name}-{tag}"})
        element.text = text
        root.insert(place, element)
    return ET.tostring(root, encoding="unicode")


def _drop_foreign(root: ET.Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            empty_group = child.tag == f"{{{SVG}}}defs" and all(part.tag == f"{{{SVG}}}style" for part in child)
            if child.tag in (f"{{{SVG}}}metadata", f"{{{SVG}}}style") or empty_group:
                parent.remove(child)


def _rename(root: ET.Element, name: str) -> None:
    """Keep the identifiers that something in the figure refers to, under this figure's name."""
    used: dict[str, str] = {}
    for element in root.iter():
        link = element.attrib.pop(LINK, None)
        if link is not None:
            element.set("href", f"#{used.setdefault(link[1:], f'{name}-{len(used)}')}")
        for key, value in element.attrib.items():
            found = REFERENCE.search(value)
            if found:
                new = used.setdefault(found[1], f"{name}-{len(used)}")
                element.set(key, value.replace(found[1], new))
    for element in root.iter():
        old = element.attrib.pop("id", None)
        if old in used:
            element.set("id", used[old])


def _slim(element: ET.Element, variables: Mapping[str, str]) -> None:
    element.text = element.text if element.text and element.text.strip() else None
    element.tail = None
    if "d" in element.attrib:
        element.set("d", " ".join(element.attrib["d"].split()))
    if element.get("transform", "").startswith("rotate(-0 "):
        del element.attrib["transform"]
    if variables and "fill" in element.attrib:
        # The ground of a hatching is written as an attribute, where a page's variable would not count.
        element.set("style", f"fill: {element.attrib.pop('fill')}")
    style = element.get("style")
    if style is None:
        return
    for colour, variable in variables.items():
        style = style.replace(colour, variable)
    parts = [part.strip() for part in style.split(";")]
    if variables:
        parts = [part for part in parts if not part.startswith("font-family")]
    element.set("style", ";".join(parts))
