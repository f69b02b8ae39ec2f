"""Two to four slabs beside each other: which were asked for, and what their rows say."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from django.http import QueryDict
from django.utils.html import format_html
from django.utils.safestring import SafeString

from catalogue.browsing import Card, card, query
from catalogue.filters import listable
from catalogue.sheet import moisture_words, weight
from catalogue.slab_drawing import Upright, Ways, upright
from inventory import codes
from inventory.models import Slab
from inventory.templatetags import wood
from inventory.viewer import Viewer
from inventory.wood import measure, shrinkage

FEWEST, MOST = 2, 4
BAR_UNITS = 100.0


@dataclass(frozen=True)
class Cell:
    """`bar` is the value against the row's greatest, of BAR_UNITS; None where words say it."""

    shown: str | SafeString
    bar: float | None = None
    is_greatest: bool = False


@dataclass(frozen=True)
class Row:
    words: str
    cells: list[Cell]
    differs: bool


@dataclass(frozen=True)
class Column:
    """One slab's head: its picture, its outline to the common scale, the address without it.

    `turn_query` and `flip_query` are addresses with just that undone or done; `number` is how
    it is told from the others where all are laid over each other.
    """

    card: Card
    drawn: Upright | None
    without_query: str
    turn_query: str
    flip_query: str
    is_turned: bool
    is_flipped: bool
    number: int


@dataclass(frozen=True)
class Comparison:
    columns: list[Column] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)
    scale_words: str = ""

    @property
    def overlaid(self) -> list[Column]:
        """Those with an outline, where at least two have one."""
        drawn = [column for column in self.columns if column.drawn]
        return drawn if len(drawn) > 1 else []

    @property
    def has_room(self) -> bool:
        return len(self.codes) < MOST


def compare(data: QueryDict, viewer: Viewer) -> Comparison:
    """Read `slab=` answers, find them, and lay them out; whatever is amiss becomes a sentence."""
    asked, sentences = _codes_in(data.getlist("slab"))
    slabs = _found(asked, viewer)
    missing = [code for code in asked if code not in {slab.code for slab in slabs}]
    sentences += [f"No slab here bears the code {codes.display(code)}." for code in missing]
    if len(slabs) > MOST:
        sentences.append(f"Four at most fit side by side: take {len(slabs) - MOST} away.")
    if len(slabs) < FEWEST:
        sentences.append(
            "Choose two to four slabs to lay side by side: tick them while looking through the "
            "slabs, or add one by its code."
        )
    return Comparison(
        columns=_columns(slabs, viewer.system, _ways(data)),
        rows=rows_of(slabs[:MOST], viewer) if FEWEST <= len(slabs) <= MOST else [],
        sentences=sentences,
        codes=[slab.code for slab in slabs],
        scale_words="half a metre" if viewer.system == measure.METRIC else "a foot",
    )


def _codes_in(typed: Iterable[str]) -> tuple[list[str], list[str]]:
    """The bare codes, each once, in the order given; and what is wrong with the others."""
    found: dict[str, None] = {}
    sentences = []
    for text in typed:
        if not text.strip():
            continue
        try:
            found[codes.normalise(text)] = None
        except codes.CodeProblem as problem:
            sentences.append(f"“{text.strip()[:20]}”: {problem}")
    return list(found), sentences


def _found(asked: Sequence[str], viewer: Viewer) -> list[Slab]:
    by_code = {slab.code: slab for slab in listable(viewer).for_cards().filter(code__in=asked)}
    return [by_code[code] for code in asked if code in by_code]


def _ways(data: QueryDict) -> Ways:
    """Which are turned or flipped, by code; what is no code here turns nothing."""
    return Ways(*(frozenset(data.getlist(name)) for name in ("turn", "flip")))


def _columns(slabs: list[Slab], system: str, ways: Ways) -> list[Column]:
    drawn = upright(slabs, system, ways)
    return [
        Column(
            card=card(slab),
            drawn=drawn.get(slab.pk),
            without_query=_address([one for one in slabs if one is not slab], ways),
            turn_query=_address(slabs, replace(ways, turned=ways.turned ^ {slab.code})),
            flip_query=_address(slabs, replace(ways, flipped=ways.flipped ^ {slab.code})),
            is_turned=slab.code in ways.turned,
            is_flipped=slab.code in ways.flipped,
            number=at,
        )
        for at, slab in enumerate(slabs, 1)
    ]


def _address(slabs: Sequence[Slab], ways: Ways) -> str:
    named = [slab.code for slab in slabs]
    turned, flipped = (
        [code for code in named if code in some] for some in (ways.turned, ways.flipped)
    )
    return query({"slab": named, "turn": turned, "flip": flipped})


def rows_of(slabs: list[Slab], viewer: Viewer) -> list[Row]:
    """Every row of the table; cost only where the viewer may see it."""
    system = viewer.system
    rows = [
        _sizes("Length", [slab.length_mm for slab in slabs], system, "length"),
        _sizes("Width, mean inside bark", [slab.mean_width_mm for slab in slabs], system),
        _sizes("Width, least", [slab.least_width_mm for slab in slabs], system),
        _sizes("Width, greatest", [slab.greatest_width_mm for slab in slabs], system),
        _sizes("Thickness", [slab.thickness_mm for slab in slabs], system),
        _said("Thickness once flat", [_flat(slab, system) for slab in slabs]),
        _numbers("Board feet", [slab.volume_mm3 for slab in slabs], wood.board_feet),
        _numbers("Volume", [slab.volume_mm3 for slab in slabs], wood.cubic_metres),
        _masses(slabs, system),
        _numbers("Moisture, mean", [slab.mc_pct for slab in slabs], wood.percent),
        _said("How dry", [moisture_words(slab) for slab in slabs]),
        _said("Last check", [wood.day(slab.checked_on) for slab in slabs]),
        _said("Sawn", [slab.get_sawn_display() for slab in slabs]),
        _said("Figure", [", ".join(slab.figure_labels) or "Plain" for slab in slabs]),
        _said("Faults", [", ".join(slab.fault_labels) or "None noted" for slab in slabs]),
        _numbers("Asking price", [slab.asking_price for slab in slabs], wood.money),
    ]
    if viewer.sees_cost:
        rows.append(_numbers("Landed cost", [slab.cost for slab in slabs], wood.money))
    return rows


def _sizes(words: str, sizes_mm: list[float], system: str, kind: str = "") -> Row:
    def shown(size_mm: float) -> str:
        return wood.quantity(measure.split_length(size_mm, system, kind=kind))

    return _numbers(words, [size_mm or None for size_mm in sizes_mm], shown)


def _masses(slabs: list[Slab], system: str) -> Row:
    weights = [weight(slab, system) for slab in slabs]
    row = _numbers(
        "Mass now", [one.mass_kg for one in weights], lambda kg: measure.format_mass(kg, system)
    )
    cells = [
        cell if one.is_measured or one.mass_kg is None else _reckoned_wet(cell)
        for cell, one in zip(row.cells, weights, strict=True)
    ]
    return Row(row.words, cells, row.differs)


def _reckoned_wet(cell: Cell) -> Cell:
    shown = format_html('{} <span class="muted small">reckoned wet: not checked</span>', cell.shown)
    return Cell(shown, cell.bar, cell.is_greatest)


def _flat(slab: Slab, system: str) -> str:
    flat = shrinkage.flattened_mm(slab.thickness_mm)
    if flat is None:
        return "Too thin to flatten"
    return " to ".join(measure.format_length(size_mm, system) for size_mm in flat)


def _numbers(words: str, values: Sequence[Any], shown: Callable[[Any], str]) -> Row:
    """A row of quantities: the greatest stands out when they are not all shown the same."""
    texts = ["–" if value is None else shown(value) for value in values]
    known = [float(value) for value in values if value is not None]
    greatest = max(known, default=0.0)
    differs = len(set(texts)) > 1
    cells = [
        Cell(text, _bar(value, greatest), differs and value is not None and value == max_of(values))
        for text, value in zip(texts, values, strict=True)
    ]
    return Row(words, cells, differs)


def max_of(values: Sequence[Any]) -> Any:
    return max(value for value in values if value is not None)


def _bar(value: Any, greatest: float) -> float | None:
    if value is None or greatest <= 0:
        return None
    return round(BAR_UNITS * float(value) / greatest, 1)


def _said(words: str, texts: list[str]) -> Row:
    return Row(words, [Cell(text) for text in texts], len(set(texts)) > 1)
