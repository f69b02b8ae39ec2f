"""Figures as people type them in a length or a mass: fractions, decimals, marks of thousands."""

import re
import unicodedata

FRACTION = r"(?:(?P<whole>\d+)(?:\s+|\s*-\s*))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
NUMBER = rf"(?:{FRACTION}|(?P<decimal>\d[\d.,]*|[.,]\d+))"

_GROUPED = re.compile(r"\d{1,3}(?P<mark>[.,])\d{3}(?:(?P=mark)\d{3})*(?:[.,]\d+)?", re.ASCII)
_PLAIN_DECIMAL = re.compile(r"\d*[.,]\d+|\d+[.,]?", re.ASCII)
_EITHER_WAY = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)


def spelled(character: str) -> str:
    """'½' → ' 1/2', 'Ａ' → 'A'; anything else as it is."""
    kind, _, codes = unicodedata.decomposition(character).partition(" ")
    if kind not in ("<fraction>", "<wide>"):
        return character
    figures = "".join(chr(int(code, 16)) for code in codes.split()).replace("⁄", "/")
    return f" {figures}" if kind == "<fraction>" else figures


def decimal(figures: str) -> float | None:
    """A decimal with a point or a comma, its thousands perhaps marked by the other; else None."""
    if _PLAIN_DECIMAL.fullmatch(figures):
        return float(figures.replace(",", "."))
    grouped = _GROUPED.fullmatch(figures)
    return float(figures.replace(grouped["mark"], "").replace(",", ".")) if grouped else None


def two_readings(figures: str) -> tuple[str, float] | None:
    """`2,850` → ("2850", 2.85): the mark could part thousands or be a decimal's; else None."""
    if not _EITHER_WAY.fullmatch(figures):
        return None
    return re.sub("[.,]", "", figures), float(figures.replace(",", "."))
