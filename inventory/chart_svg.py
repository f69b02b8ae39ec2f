"""Figures of matplotlib as SVG that a page can carry: readable aloud, coloured by the page's CSS.

No <style>, no style attribute (the pages' policy allows none): what matplotlib writes as style
becomes presentation attributes. An artist whose gid begins with `chart-` becomes a group of that
class; every colour becomes `currentColor`, so static/css/charts.css decides light and dark.
"""

import io
import os
import re
import threading
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from django.conf import settings
from django.utils.safestring import SafeString, mark_safe

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SVG = "http://www.w3.org/2000/svg"
ET.register_namespace("", SVG)

# The library keeps fonts and settings in one place for the whole process: one drawing at a time.
_drawing = threading.Lock()
_COLOURS = ("fill", "stroke")
_COORDINATES = frozenset({"d", "x", "y", "transform"})
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_DROPPED = frozenset({"font-family", "font", "font-weight", "font-style"})
_LONG_DECIMALS = re.compile(r"(\d+\.\d{2})\d+")
_REFERENCE = re.compile(r"#([\w.-]+)")
_CLASS_PREFIX = "chart-"


@dataclass(frozen=True)
class Shape:
    """The size a figure is drawn at: inches of 72 units, and the size of its words in units."""

    name: str
    width_in: float
    height_in: float
    words: float


def drawn(draw: Callable[[], "Figure"], *, key: str, title: str, desc: str) -> SafeString:
    """What `draw` gives, as one <svg> element; `key` makes its ids unique on the page."""
    with _drawing:
        _prepare()
        raw = _written(draw())
    root = ET.fromstring(raw)
    _tidy(root)
    _name_ids(root, key)
    _describe(root, key, title, desc)
    return mark_safe(ET.tostring(root, encoding="unicode"))


def _prepare() -> None:
    """Where the library keeps its list of fonts, and text written as text."""
    home = Path(settings.VAR_DIR) / "matplotlib"
    os.environ.setdefault("MPLCONFIGDIR", str(home))
    import matplotlib

    matplotlib.rcParams["svg.fonttype"] = "none"
    matplotlib.rcParams["svg.hashsalt"] = "waneyard"


def _written(figure: "Figure") -> str:
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    FigureCanvasSVG(figure)
    out = io.StringIO()
    no_metadata = {"Date": None, "Creator": None, "Format": None, "Type": None}
    figure.savefig(out, format="svg", metadata=no_metadata, transparent=True)
    return out.getvalue()


def _tidy(root: ET.Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{SVG}}}style", f"{{{SVG}}}metadata"):
                parent.remove(child)
        _unstyle(parent)
    _drop_empty_groups(root)
    for name in ("width", "height", "version"):
        root.attrib.pop(name, None)
    root.set("stroke-linejoin", "round")


def _drop_empty_groups(element: ET.Element) -> None:
    for child in list(element):
        _drop_empty_groups(child)
        if child.tag in (f"{{{SVG}}}g", f"{{{SVG}}}defs") and len(child) == 0:
            element.remove(child)
        elif child.tail and not child.tail.strip():
            child.tail = None
    if element.text and not element.text.strip():
        element.text = None


def _unstyle(element: ET.Element) -> None:
    """Style to attributes, colours to the group's own, a chart's gid to a class."""
    for declaration in element.attrib.pop("style", "").split(";"):
        name, _, value = declaration.partition(":")
        if value and name.strip() not in _DROPPED:
            element.set(name.strip(), value.strip())
    _take_colour(element)
    if element.get("id", "").startswith(_CLASS_PREFIX):
        element.set("class", element.attrib.pop("id"))
    if _XLINK_HREF in element.attrib:
        element.set("href", element.attrib.pop(_XLINK_HREF))
    for name in _COORDINATES & element.attrib.keys():
        element.set(name, _LONG_DECIMALS.sub(r"\1", element.attrib[name]))


def _take_colour(element: ET.Element) -> None:
    for name in _COLOURS:
        if element.get(name, "none") != "none":
            element.set(name, "currentColor")
    if element.tag == f"{{{SVG}}}text":
        element.set("fill", "currentColor")


def _name_ids(root: ET.Element, key: str) -> None:
    """Keep only ids something refers to, under names no other drawing has."""
    used: set[str] = set()
    for element in root.iter():
        for name in ("href", "clip-path"):
            used.update(_REFERENCE.findall(element.get(name, "")))
    names = {old: f"{key}-{number}" for number, old in enumerate(sorted(used), 1)}
    for element in root.iter():
        old = element.attrib.pop("id", "")
        if old in names:
            element.set("id", names[old])
        for name in ("href", "clip-path"):
            if name in element.attrib:
                renamed = _REFERENCE.sub(lambda m: f"#{names[m[1]]}", element.attrib[name])
                element.set(name, renamed)


def _describe(root: ET.Element, key: str, title: str, desc: str) -> None:
    for position, (tag, words) in enumerate((("title", title), ("desc", desc))):
        element = ET.Element(f"{{{SVG}}}{tag}", {"id": f"{key}-{tag}"})
        element.text = words
        root.insert(position, element)
    root.set("role", "img")
    root.set("aria-labelledby", f"{key}-title {key}-desc")
