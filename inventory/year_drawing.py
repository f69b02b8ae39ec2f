"""How a place's typical year is drawn: matplotlib alone, imported when the first is asked for."""

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from inventory.chart_drawing import INK, Drawing, figure_of, in_shapes
from inventory.chart_svg import Shape

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from inventory.place_year import PlaceYear


def year_svgs(year: "PlaceYear", shapes: Sequence[Shape], *, key: str, title: str) -> list[Drawing]:
    return in_shapes(lambda shape: _figure(year, shape), shapes, key, title, year.in_words)


def _figure(year: "PlaceYear", shape: Shape) -> "Figure":
    figure, (axes,) = figure_of(shape, (1,))
    _set_axes(axes, year, shape)
    days = range(len(year.days))
    low = [emc - year.spread_pct for emc in year.emc_pct]
    high = [emc + year.spread_pct for emc in year.emc_pct]
    axes.fill_between(days, low, high, color=INK, linewidth=0, gid="chart-year-spread")
    if year.weeks:
        where, emcs = zip(*year.weeks, strict=True)
        axes.plot(where, emcs, "o", color=INK, markersize=3.2, gid="chart-year-weeks")
    axes.plot(days, year.emc_pct, color=INK, linewidth=2.2, gid="chart-year-typical")
    today = year.today.timetuple().tm_yday - 1
    axes.axvline(today, color=INK, linewidth=1, linestyle=(0, (3, 3)), gid="chart-today")
    axes.annotate(
        "Today",
        (today, 1),
        xycoords=("data", "axes fraction"),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        fontsize=shape.words * 0.92,
        gid="chart-today-words",
    )
    return figure


def _set_axes(axes: "Axes", year: "PlaceYear", shape: Shape) -> None:
    from matplotlib.ticker import FixedFormatter, FixedLocator, MaxNLocator

    values = [*year.emc_pct, *(emc for _, emc in year.weeks)]
    lowest = min(min(values), min(year.emc_pct) - year.spread_pct)
    highest = max(max(values), max(year.emc_pct) + year.spread_pct)
    axes.set_xlim(0, len(year.days) - 1)
    axes.set_ylim(max(lowest - 0.5, 0.0), highest + 0.5)
    axes.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    step = 1 if shape.width_in > 6 else 3
    ticks = [n for n, day in enumerate(year.days) if day.day == 15 and day.month % step == 1 % step]
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter(FixedFormatter([_month(year.days[n]) for n in ticks]))
    axes.set_title("EMC, %", loc="left", fontsize=shape.words, pad=shape.words * 0.6)


def _month(day: date) -> str:
    return f"{day:%b}"
