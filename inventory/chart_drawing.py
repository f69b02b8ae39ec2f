"""How the charts are drawn: matplotlib alone, imported here when the first chart is asked for."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from django.utils.safestring import SafeString

from inventory.air import GAP_DAYS, AirDay
from inventory.chart_svg import Shape, drawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from inventory.charts import MoistureHistory, StageSpan

# A letter is about half as wide as it is high.
LETTER_WIDTH = 0.52
# Not black: the library leaves black unwritten, and the page colours what is written.
INK = "#444444"
EPOCH = date(1970, 1, 1)
# Shell and core bear the shapes they have on the reading map (reading_map.py).
MARKERS = {"mean": "D", "shell": "s", "core": "o"}


@dataclass(frozen=True)
class Drawing:
    """One picture of a chart and the shape it was drawn for."""

    shape: str
    svg: SafeString


def moisture_svgs(
    history: "MoistureHistory", shapes: Sequence[Shape], *, key: str, title: str, desc: str
) -> list[Drawing]:
    return in_shapes(lambda shape: _moisture_figure(history, shape), shapes, key, title, desc)


def air_svgs(
    days: Sequence[AirDay],
    shapes: Sequence[Shape],
    system: str,
    *,
    key: str,
    title: str,
    desc: str,
) -> list[Drawing]:
    return in_shapes(lambda shape: _air_figure(days, shape, system), shapes, key, title, desc)


def in_shapes(
    figure: Callable[[Shape], "Figure"],
    shapes: Sequence[Shape],
    key: str,
    title: str,
    desc: str,
) -> list[Drawing]:
    return [
        Drawing(
            shape.name,
            drawn(lambda s=shape: figure(s), key=f"{key}-{shape.name}", title=title, desc=desc),  # type: ignore[misc]
        )
        for shape in shapes
    ]


def figure_of(
    shape: Shape, rows: Sequence[float], between: float = 0.06
) -> tuple["Figure", list["Axes"]]:
    """Axes one above the other that share their time; no frames, light lines across."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(shape.width_in, shape.height_in))
    grid = figure.add_gridspec(len(rows), 1, height_ratios=rows, hspace=between)
    across, up = shape.words / 72 / shape.width_in, shape.words / 72 / shape.height_in
    figure.subplots_adjust(
        left=2.6 * across, right=1 - 0.6 * across, top=1 - 2.2 * up, bottom=3 * up
    )
    axes: list[Axes] = []
    for row in range(len(rows)):
        axes.append(figure.add_subplot(grid[row], sharex=axes[0] if axes else None))
        _plain(axes[-1], shape)
        axes[-1].tick_params(labelbottom=row == len(rows) - 1)
    return figure, axes


def _plain(axes: "Axes", shape: Shape) -> None:
    axes.set_frame_on(False)
    axes.tick_params(length=0, labelsize=shape.words, pad=4)
    axes.grid(visible=True, axis="y", linewidth=0.7, gid="chart-grid")
    for line in axes.get_ygridlines():
        line.set_gid("chart-grid")
    axes.set_axisbelow(True)


def _moisture_figure(history: "MoistureHistory", shape: Shape) -> "Figure":
    figure, (main, strip) = figure_of(shape, (7, 1))
    _set_days(main, history.first_day, history.last_day, shape)
    _set_levels(main, history)
    _draw_target(main, history, shape)
    _draw_air(main, history)
    _draw_ahead(main, history)
    _draw_checks(main, history, shape)
    _draw_stages(strip, history.stages, history, shape)
    _draw_today(main, strip, history.today, shape)
    main.set_title("Moisture content, %", loc="left", fontsize=shape.words, pad=shape.words * 0.6)
    return figure


def _set_days(axes: "Axes", first: date, last: date, shape: Shape) -> None:
    from matplotlib.ticker import FixedFormatter, FixedLocator

    days = max((last - first).days, 14)
    left, right = last - timedelta(days=days * 1.02), last + timedelta(days=max(days * 0.06, 2))
    axes.set_xlim(_number(left), _number(right))
    most = int(shape.width_in * 72 / (shape.words * 5))
    ticks = _day_ticks(left, last, most)
    axes.xaxis.set_major_locator(FixedLocator([_number(day) for day in ticks]))
    axes.xaxis.set_major_formatter(FixedFormatter(_tick_words(ticks)))


def _day_ticks(first: date, last: date, most: int) -> list[date]:
    """First days of months, or days of a short time, at most so many."""
    months = (last.year - first.year) * 12 + last.month - first.month
    if months < 2:
        step = max(1, -(-(last - first).days // most))
        return [last - timedelta(days=n) for n in range(0, (last - first).days + 1, step)][::-1]
    step = next((s for s in (1, 2, 3, 4, 6, 12, 24, 60) if months / s <= most), 120)
    return [
        day
        for n in range(months + 1)
        if (day := _month_on(first, n)) > first and (day.year * 12 + day.month - 1) % step == 0
    ]


def _month_on(first: date, months: int) -> date:
    year, month = divmod(first.year * 12 + first.month - 1 + months, 12)
    return date(year, month + 1, 1)


def _tick_words(ticks: Sequence[date]) -> list[str]:
    """`Mar`, with the year beneath the first and wherever it changes; days where months repeat."""
    by_days = len({(day.year, day.month) for day in ticks}) < len(ticks)
    words = []
    for earlier, day in pairwise([None, *ticks]):
        assert day is not None
        name = f"{day.day} {day:%b}" if by_days else f"{day:%b}"
        new_year = earlier is None or earlier.year != day.year
        words.append(f"{name}\n{day.year}" if new_year else name)
    return words


def _set_levels(axes: "Axes", history: "MoistureHistory") -> None:
    from matplotlib.ticker import MaxNLocator

    values = [history.target.low_pct, history.target.high_pct]
    values += [mean.emc_pct for mean in history.air]
    for check in history.checks:
        values += [v for v in (check.mean_pct, check.shell_pct, check.core_pct) if v is not None]
    values += [value for day in history.ahead for value in (day.low_pct, day.high_pct)]
    low = 0.0 if max(values) > 20 else max(min(values) - 1.5, 0.0)
    axes.set_ylim(low, max(values) + 0.1 * (max(values) - low))
    axes.yaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))


def _draw_target(axes: "Axes", history: "MoistureHistory", shape: Shape) -> None:
    target = history.target
    axes.axhspan(target.low_pct, target.high_pct, color=INK, linewidth=0, gid="chart-target")
    left = axes.get_xlim()[0]
    axes.text(
        left,
        target.high_pct,
        f" Target {target.low_pct:g}–{target.high_pct:g} %",
        fontsize=shape.words * 0.92,
        va="bottom",
        gid="chart-target-words",
    )


def _draw_air(axes: "Axes", history: "MoistureHistory") -> None:
    gap_days = GAP_DAYS + history.air_step_days
    for run in _runs([mean.on for mean in history.air], gap_days):
        means = history.air[run]
        axes.plot(
            [_number(mean.on) for mean in means],
            [mean.emc_pct for mean in means],
            color=INK,
            linewidth=1.6,
            gid="chart-air",
        )


def _draw_ahead(axes: "Axes", history: "MoistureHistory") -> None:
    """What is expected: 8 chances in 10 within the band, the middle dashed."""
    if not history.ahead:
        return
    days = [_number(day.on) for day in history.ahead]
    low, high = ([getattr(d, f"{name}_pct") for d in history.ahead] for name in ("low", "high"))
    axes.fill_between(days, low, high, color=INK, linewidth=0, gid="chart-band")
    middle = [day.pct for day in history.ahead]
    axes.plot(days, middle, color=INK, linewidth=2, linestyle=(0, (4, 3)), gid="chart-ahead")


def _runs(days: Sequence[date], gap_days: int) -> list[slice]:
    """Stretches without a gap; a line is not drawn across what nobody measured."""
    cuts = [i for i in range(1, len(days)) if (days[i] - days[i - 1]).days > gap_days]
    return [slice(a, b) for a, b in pairwise([0, *cuts, len(days)]) if b > a]


def _draw_checks(axes: "Axes", history: "MoistureHistory", shape: Shape) -> None:
    for name in ("mean", "shell", "core"):
        pairs = [
            (_number(check.on), value)
            for check in history.checks
            if (value := getattr(check, f"{name}_pct")) is not None
        ]
        if pairs:
            days, values = zip(*pairs, strict=True)
            axes.plot(
                days,
                values,
                color=INK,
                linestyle="-" if name == "mean" else "",
                linewidth=2,
                marker=MARKERS[name],
                markersize=6 if name == "mean" else 5.5,
                markerfacecolor="none" if name == "shell" else INK,
                clip_on=False,
                gid=f"chart-{name}",
            )
    last = history.checks[-1]
    axes.annotate(
        f"{last.mean_pct:.1f} %",
        (_number(last.on), last.mean_pct),
        xytext=(0, 9),
        textcoords="offset points",
        ha="center",
        fontsize=shape.words * 1.1,
        gid="chart-last",
    )


def _draw_stages(
    axes: "Axes", stages: Sequence["StageSpan"], history: "MoistureHistory", shape: Shape
) -> None:
    axes.set_ylim(0, 1)
    axes.set_yticks([])
    left, right = axes.get_xlim()
    units_a_day = axes.get_position().width * shape.width_in * 72 / (right - left)
    for stage in stages:
        since, until = _number(stage.since), max(_number(stage.until), _number(stage.since) + 0.5)
        bars = axes.barh(0.5, until - since, left=since, height=0.86, color=INK)
        bars[0].set_gid(f"chart-stage chart-stage-{stage.kind}")
        words = _fitting(stage, (until - since) * units_a_day, shape)
        axes.text(
            (since + until) / 2,
            0.5,
            words,
            ha="center",
            va="center",
            fontsize=shape.words * 0.92,
            gid="chart-stage-words",
        )


def _fitting(stage: "StageSpan", room: float, shape: Shape) -> str:
    """As much of a stage's name as its span has room for; the table tells the rest."""
    for words in (stage.words, stage.short_words):
        if len(words) * shape.words * LETTER_WIDTH < room:
            return words
    return ""


def _draw_today(main: "Axes", strip: "Axes", today: date, shape: Shape) -> None:
    for axes in (main, strip):
        axes.axvline(
            _number(today), color=INK, linewidth=1, linestyle=(0, (3, 3)), gid="chart-today"
        )
    main.annotate(
        "Today",
        (_number(today), 1),
        xycoords=("data", "axes fraction"),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        fontsize=shape.words * 0.92,
        gid="chart-today-words",
    )


def _air_figure(days: Sequence[AirDay], shape: Shape, system: str) -> "Figure":
    from matplotlib.ticker import MaxNLocator

    figure, rows = figure_of(shape, (1, 1, 1), between=0.5)
    degrees = "°C" if system == "metric" else "°F"
    series = (
        (f"Temperature, {degrees}", [_shown(day.temp_c, system) for day in days], "temperature"),
        ("Relative humidity, %", [day.rh_pct for day in days], "humidity"),
        ("EMC, % (where wood settles)", [day.emc_pct for day in days], "emc"),
    )
    _set_days(rows[0], days[0].on, days[-1].on, shape)
    for axes, (words, values, name) in zip(rows, series, strict=True):
        for run in _runs([day.on for day in days], GAP_DAYS):
            shown = [_number(day.on) for day in days[run]]
            alone: dict[str, Any] = {"marker": "o", "markersize": 3} if len(shown) == 1 else {}
            axes.plot(shown, values[run], color=INK, linewidth=1.6, gid=f"chart-{name}", **alone)
        axes.yaxis.set_major_locator(MaxNLocator(3, steps=[1, 2, 5, 10]))
        axes.set_ylim(*_with_room(values))
        axes.set_title(words, loc="left", fontsize=shape.words, pad=shape.words * 0.4)
    return figure


def _with_room(values: Sequence[float]) -> tuple[float, float]:
    room = max(0.12 * (max(values) - min(values)), 0.5)
    return min(values) - room, max(values) + room


def _shown(temp_c: float, system: str) -> float:
    return temp_c if system == "metric" else temp_c * 1.8 + 32


def _number(day: date) -> float:
    """A day on the time axis."""
    return float((day - EPOCH).days)
