"""Lengths in and out as people say them; volume, board feet, weight.

Everything is stored in mm, mm², mm³, kg and °C. Feet, fractions, board feet and °F exist here only
(and in lengths.py, which reads what was typed). `system` is 'metric' or 'imperial' throughout.
Numbers are joined to their units by non-breaking spaces.
"""

from __future__ import annotations

import math

from inventory.wood.lengths import MM_PER_FT, MM_PER_IN
from inventory.wood.lengths import LengthProblem as LengthProblem
from inventory.wood.lengths import parse_length_mm as parse_length_mm

METRIC, IMPERIAL = "metric", "imperial"
MM3_PER_M3 = 1e9
MM2_PER_M2 = 1e6
MM3_PER_BOARD_FOOT = 144.0 * MM_PER_IN**3
KG_PER_LB = 0.45359237
LIFTING_CAUTION_KG = 25.0
HOIST_CAUTION_KG = 50.0
# A tally names rough thickness by the quarter inch; wood sawn in mm falls a little short of it.
QUARTER_ALLOWANCE_MM = 2.0
NBSP = "\N{NO-BREAK SPACE}"

_EIGHTHS = ("", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")

# Least and greatest believable, then the usual span in which a suggestion is looked for (mm).
LENGTH_LIMITS: dict[str, tuple[float, float, float, float]] = {
    "slab_length": (300, 12_000, 1_000, 5_000),
    "slab_width": (40, 3_000, 200, 1_500),
    "slab_thickness": (10, 400, 25, 110),
    "log_length": (300, 20_000, 1_500, 6_000),
    "log_diameter": (80, 3_000, 200, 1_500),
    "top_length": (150, 8_000, 600, 4_000),
    "top_width": (100, 3_000, 300, 1_500),
    "top_thickness": (8, 200, 18, 80),
    "top_corner": (2, 600, 5, 200),
    "spare_width": (0, 500, 2, 60),
}
_WORDS = {
    "length": ("shorter", "longer"),
    "width": ("narrower", "wider"),
    "corner": ("tighter", "rounder"),
}
_SLIPS_TOO_GREAT = (1 / 10, 1 / MM_PER_IN, 1 / 12, 1 / 100, 1 / 1000)
_SLIPS_TOO_SMALL = {METRIC: (10.0, MM_PER_IN, 1000.0), IMPERIAL: (12.0, 10.0, MM_PER_IN)}


def format_length(mm: float, system: str, *, kind: str = "") -> str:
    """A length as the trade writes it: `2⅛ in`, `7 ft 6 in`, `54 mm`, `2.70 m`.

    Imperial goes to the nearest sixteenth under a foot and the nearest eighth above; feet begin at
    2 ft where `kind` is a length, else at 3 ft. Metric goes to the nearest mm (tenths under 10 mm),
    from 1 m up to the nearest cm.
    """
    return NBSP.join(part for pair in split_length(mm, system, kind=kind) for part in pair)


def split_length(mm: float, system: str, *, kind: str = "") -> list[tuple[str, str]]:
    """The same as pairs (number, unit), so that a page can set the units lighter."""
    if not math.isfinite(mm):
        raise ValueError("A length must be a number.")
    pairs = _metric_pairs(abs(mm)) if system == METRIC else _imperial_pairs(abs(mm), kind)
    if mm < 0 and pairs[0][0] != "0":
        pairs[0] = (f"−{pairs[0][0]}", pairs[0][1])
    return pairs


def format_fine(mm: float, system: str) -> str:
    """A change or a thickness, finer than a tape is read: `13⁄32 in`, `−3.4 mm`.

    Imperial goes to the nearest thirty-second of an inch under a foot and the nearest sixteenth
    above, in inches throughout; metric to the tenth of a mm under 100 mm, else to the mm.
    """
    return NBSP.join(split_fine(mm, system)[0])


def split_fine(mm: float, system: str) -> list[tuple[str, str]]:
    """The same as pairs (number, unit)."""
    if not math.isfinite(mm):
        raise ValueError("A length must be a number.")
    number, unit = _fine(abs(mm), system)
    return [(f"−{number}" if mm < 0 and number != "0" else number, unit)]


def _fine(mm: float, system: str) -> tuple[str, str]:
    if system == METRIC:
        return (f"{mm:.1f}".removesuffix(".0") if mm < 99.95 else f"{mm:,.0f}"), "mm"
    inches = mm / MM_PER_IN
    parts = 32 if inches < 12 else 16
    return _mixed(math.floor(inches * parts + 0.5), parts), "in"


def doubt_about_length(mm: float, kind: str, system: str = METRIC) -> str | None:
    """A question about a length no slab or top has, with the likeliest slip; None if all is well.

    `kind` is one of LENGTH_LIMITS.
    """
    least, greatest, *_ = LENGTH_LIMITS[kind]
    if least <= mm <= greatest:
        return None
    thing, _, measure = kind.partition("_")
    words = _WORDS.get(measure, ("thinner", "thicker"))
    said = f"{_brief_length(mm, system)} is {words[mm > greatest]} than any {thing} here"
    meant = _likely_length_mm(mm, kind, system)
    if meant is None:
        return f"{said}: is that right?"
    return f"{said}: did you mean {_brief_length(meant, system)}?"


def cubic_metres(volume_mm3: float) -> float:
    """Volume in m³."""
    return volume_mm3 / MM3_PER_M3


def board_feet(volume_mm3: float) -> float:
    """Volume in board feet of 144 in³ (1 m³ = 423.776 board feet)."""
    return volume_mm3 / MM3_PER_BOARD_FOOT


def surface_measure_ft2(width_mm: float, length_mm: float) -> int:
    """Surface measure (ft²) of the trade's tally: full width, whole feet of length, rounded.

    An exact half goes to the even number. The rule book has halves go up and down by turns; to
    the even number does the same over a tally without having to remember the last board.
    """
    width_in = width_mm / MM_PER_IN
    length_ft = math.floor(length_mm / MM_PER_FT + 1e-6)
    return round(round(width_in * length_ft / 12.0, 9))


def tally_board_feet(thickness_mm: float, width_mm: float, length_mm: float) -> float:
    """Board feet as the trade tallies them: surface measure × nominal thickness in inches.

    Nominal thickness goes down to the quarter inch (a board must hold its thickness); under 1 in
    it counts as 1 in. Shown beside the true figure, never instead of it.
    """
    inches = max(_quarters(thickness_mm), 4) / 4.0
    return surface_measure_ft2(width_mm, length_mm) * inches


def quarter_name(thickness_mm: float) -> str:
    """The trade's name of a rough thickness, '8/4' for 2 in; '' under 4/4."""
    quarters = _quarters(thickness_mm)
    return f"{quarters}/4" if quarters >= 4 else ""


def format_volume(volume_mm3: float, system: str) -> str:
    """`0.091 m³`, or board feet: `38.4 bf`."""
    if system == METRIC:
        cubic = cubic_metres(volume_mm3)
        return f"{cubic:.3f}{NBSP}m³" if cubic < 10 else f"{cubic:,.1f}{NBSP}m³"
    return f"{board_feet(volume_mm3):,.1f}{NBSP}bf"


def format_area(area_mm2: float, system: str) -> str:
    """`1.65 m²`, or `17.8 ft²`."""
    if system == METRIC:
        return f"{area_mm2 / MM2_PER_M2:,.2f}{NBSP}m²"
    return f"{area_mm2 / MM_PER_FT**2:,.1f}{NBSP}ft²"


def format_mass(kg: float, system: str) -> str:
    """`42 kg` or `93 lb`; one decimal under ten."""
    number, unit = (kg, "kg") if system == METRIC else (kg / KG_PER_LB, "lb")
    return f"{number:.1f}{NBSP}{unit}" if number < 9.95 else f"{number:,.0f}{NBSP}{unit}"


def format_temperature(temp_c: float, system: str) -> str:
    """`21 °C` or `70 °F`, to the whole degree."""
    number, unit = (temp_c, "°C") if system == METRIC else (temp_c * 1.8 + 32.0, "°F")
    text = f"{number:.0f}".replace("-", "−")
    return f"{'0' if text == '−0' else text}{NBSP}{unit}"


def lifting_caution(kg: float, system: str = METRIC) -> str | None:
    """One sentence of caution from 25 kg up; None below."""
    if kg < LIFTING_CAUTION_KG:
        return None
    if kg < HOIST_CAUTION_KG:
        return f"About {format_mass(kg, system)}: lift it with two people."
    return f"About {format_mass(kg, system)}: move it with a hoist or a trolley, not by hand."


def _metric_pairs(mm: float) -> list[tuple[str, str]]:
    if mm < 9.95:
        return [(f"{mm:.1f}".removesuffix(".0"), "mm")]
    whole_mm = math.floor(mm + 0.5)
    if whole_mm < 1000:
        return [(str(whole_mm), "mm")]
    return [(f"{math.floor(mm / 10.0 + 0.5) / 100.0:.2f}", "m")]


def _imperial_pairs(mm: float, kind: str) -> list[tuple[str, str]]:
    inches = mm / MM_PER_IN
    if 0 < inches < 1 / 16:
        return [(f"{inches:.2f}".replace("0.00", "0"), "in")]
    parts = 16 if inches < 12 else 8
    count = math.floor(inches * parts + 0.5)
    first_in_feet = 24 if kind.endswith("length") else 36
    if count < first_in_feet * parts:
        return [(_mixed(count, parts), "in")]
    feet, rest = divmod(count, 12 * parts)
    return [(str(feet), "ft"), (_mixed(rest, parts), "in")] if rest else [(str(feet), "ft")]


def _mixed(count: int, parts: int) -> str:
    """`count` parts of an inch (a power of two) as a whole and a fraction: 17, 8 → '2⅛'."""
    whole, rest = divmod(count, parts)
    if rest * 8 % parts:
        shared = math.gcd(rest, parts)
        top, bottom = str(rest // shared), str(parts // shared)
        fraction = f"{top.translate(_RAISED)}⁄{bottom.translate(_LOWERED)}"
    else:
        fraction = _EIGHTHS[rest * 8 // parts]
    return f"{whole or ''}{fraction}" or "0"


def _quarters(thickness_mm: float) -> int:
    return math.floor((thickness_mm + QUARTER_ALLOWANCE_MM) / (MM_PER_IN / 4.0))


def _brief_length(mm: float, system: str) -> str:
    """Short enough for a question: `40 m`, `4.0 m`, `27.5 mm`, `131 ft`."""
    if system == IMPERIAL:
        return format_length(mm, system, kind="length")
    if mm < 1000:
        return f"{mm:.4g}{NBSP}mm"
    metres = mm / 1000.0
    return (
        f"{metres:,.2f}".removesuffix("0").removesuffix(".0" if metres >= 10 else "") + f"{NBSP}m"
    )


def _likely_length_mm(mm: float, kind: str, system: str) -> float | None:
    """What a slip of the unit or the point would have meant, the roundest such first."""
    *_, least, greatest = LENGTH_LIMITS[kind]
    too_great = mm > LENGTH_LIMITS[kind][1]
    slips = _SLIPS_TOO_GREAT if too_great else _SLIPS_TOO_SMALL[system]
    meant = [mm * slip for slip in slips if least <= mm * slip <= greatest]
    step = 1.0 if system == METRIC else MM_PER_IN / 8.0
    round_ones = [length for length in meant if abs(length / step - round(length / step)) < 1e-6]
    return next(iter(round_ones or meant), None)
