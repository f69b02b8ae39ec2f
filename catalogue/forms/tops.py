"""What a form asks of a top's shape: only what that shape has, each wrong size beside its field."""

from typing import Any

from catalogue.models import HowMade, KeptEdges, TopShape

ASKED_BY_SHAPE: dict[str, frozenset[str]] = {
    TopShape.ROUNDED: frozenset({"corner_mm"}),
    TopShape.BOAT: frozenset({"end_width_mm"}),
    TopShape.LIVE_EDGE: frozenset({"kept_edges"}),
}
ONLY_SOME_HAVE = ("corner_mm", "end_width_mm", "kept_edges")


def fitted(cleaned: dict[str, Any]) -> dict[str, Any]:
    """What was cleaned, without what its shape does not have; margins nobody gave are none."""
    asked = ASKED_BY_SHAPE.get(cleaned.get("top_shape", ""), frozenset())
    blank: dict[str, Any] = {"corner_mm": None, "end_width_mm": None, "kept_edges": KeptEdges.BOTH}
    kept: dict[str, Any] = {name: blank[name] for name in ONLY_SOME_HAVE if name not in asked}
    for name in ("margin_mm", "wane_mm"):
        kept[name] = cleaned.get(name) or 0.0
    if not cleaned.get("kept_edges"):
        kept["kept_edges"] = KeptEdges.BOTH
    return cleaned | kept


def wrong(cleaned: dict[str, Any]) -> dict[str, str]:
    """Field → what is wrong with it, of what the shape asks; sizes in mm."""
    shape = cleaned.get("top_shape")
    length, width = cleaned.get("top_length_mm"), cleaned.get("top_width_mm")
    found: dict[str, str] = {}
    if shape == TopShape.LIVE_EDGE and cleaned.get("how_made") not in (None, HowMade.ONE_SLAB):
        found["how_made"] = "A live-edge top is made of one slab."
    if length is None or width is None:
        return found
    if shape == TopShape.ROUNDED:
        found |= _wrong_corner(cleaned.get("corner_mm"), min(length, width))
    if shape == TopShape.BOAT:
        found |= _wrong_ends(cleaned.get("end_width_mm"), length, width)
    return found


def _wrong_corner(corner_mm: float | None, least_side_mm: float) -> dict[str, str]:
    if not corner_mm:
        return {"corner_mm": "How round are its corners? Give their radius."}
    if 2 * corner_mm > least_side_mm:
        return {"corner_mm": "A corner's radius is at most half the top's shorter side."}
    return {}


def _wrong_ends(end_width_mm: float | None, length_mm: float, width_mm: float) -> dict[str, str]:
    if not end_width_mm:
        return {"end_width_mm": "How wide is it at its ends?"}
    if end_width_mm >= width_mm:
        return {"end_width_mm": "A boat is narrower at its ends than in the middle."}
    if width_mm - end_width_mm > length_mm:
        return {"end_width_mm": "Its sides would bulge past its ends: make them wider."}
    return {}
