"""How the charts of a charge are drawn: matplotlib alone, imported when the first is asked for."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.chart_svg import Shape, drawn
from inventory.wood.heat import HeatHold

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from inventory.charge_charts import AirPoint, Series

# Not black: the library leaves black unwritten, and the page colours what is written.
INK = "#444444"
MOST_PROBE_POINTS = 600
# A line is not drawn across so much longer a break than usual between records.
GAP_TIMES = 6.0

DAY_S = 86400.0

Course = Sequence[tuple[datetime, float]]


def air_svgs(
    points: Sequence["AirPoint"],
    courses: Sequence[Course],
    shapes: Sequence[Shape],
    system: str,
    *,
    key: str,
    title: str,
    desc: str,
) -> list[SafeString]:
    """Temperature, humidity, and EMC with the slabs' moisture, one above the other."""
    return _in_shapes(
        lambda shape: _air_figure(points, courses, shape, system), shapes, key, title, desc
    )


def core_svgs(
    series: "dict[str, Series]",
    hold: HeatHold,
    shapes: Sequence[Shape],
    system: str,
    *,
    key: str,
    title: str,
    desc: str,
) -> list[SafeString]:
    """Every probe, the temperature wanted, and the time held."""
    return _in_shapes(
        lambda shape: _core_figure(series, hold, shape, system), shapes, key, title, desc
    )


def _in_shapes(
    figure: Callable[[Shape], "Figure"],
    shapes: Sequence[Shape],
    key: str,
    title: str,
    desc: str,
) -> list[SafeString]:
    return [
        drawn(lambda s=shape: figure(s), key=f"{key}-{shape.name}", title=title, desc=desc)  # type: ignore[misc]
        for shape in shapes
    ]


def _figure(shape: Shape, rows: int) -> tuple["Figure", list["Axes"]]:
    """Axes one above the other that share their time; no frames, light lines across."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(shape.width_in, shape.height_in))
    grid = figure.add_gridspec(rows, 1, hspace=0.5)
    across, up = shape.words / 72 / shape.width_in, shape.words / 72 / shape.height_in
    figure.subplots_adjust(
        left=2.8 * across, right=1 - 1.2 * across, top=1 - 2.2 * up, bottom=4 * up
    )
    axes: list[Axes] = []
    for row in range(rows):
        axes.append(figure.add_subplot(grid[row], sharex=axes[0] if axes else None))
        axes[-1].set_frame_on(False)
        axes[-1].tick_params(length=0, labelsize=shape.words, pad=4, labelbottom=row == rows - 1)
        axes[-1].grid(visible=True, axis="y", linewidth=0.7)
        axes[-1].set_axisbelow(True)
    return figure, axes


def _air_figure(
    points: Sequence["AirPoint"], courses: Sequence[Course], shape: Shape, system: str
) -> "Figure":
    figure, rows = _figure(shape, 3)
    series = (
        (f"Temperature, {_sign(system)}", [_shown(p.temp_c, system) for p in points]),
        ("Relative humidity, %", [p.rh_pct for p in points]),
        ("EMC and the slabs’ moisture, %", [p.emc_pct for p in points]),
    )
    times = [p.at for p in points]
    for axes, (words, values), gid in zip(
        rows, series, ("chart-temperature", "chart-humidity", "chart-emc"), strict=True
    ):
        _draw_line(axes, times, values, gid)
        _title(axes, words, shape)
    for course in courses:
        _draw_course(rows[-1], course)
    everything = [*series[-1][1], *(pct for course in courses for _, pct in course)]
    for axes, values in zip(rows, (series[0][1], series[1][1], everything), strict=True):
        _set_levels(axes, values)
    _set_times(rows[-1], [*times, *(at for course in courses for at, _ in course)], shape)
    return figure


def _draw_course(axes: "Axes", course: Course) -> None:
    """A slab's moisture before and after; what went between nobody measured, so it is dashed."""
    axes.plot(
        [_number(at) for at, _ in course],
        [pct for _, pct in course],
        color=INK,
        linewidth=1.1,
        linestyle=(0, (4, 3)),
        marker="D",
        markersize=5,
        clip_on=False,
        gid="chart-mean",
    )


def _core_figure(
    series: "dict[str, Series]", hold: HeatHold, shape: Shape, system: str
) -> "Figure":
    figure, (axes,) = _figure(shape, 1)
    if hold.held is not None:
        begin, end = hold.held.begin_s / DAY_S, hold.held.end_s / DAY_S
        axes.axvspan(begin, end, color=INK, linewidth=0, gid="chart-held")
    for log in series.values():
        some = _coldest(log)
        _draw_line(
            axes, [at for at, _ in some], [_shown(c, system) for _, c in some], "chart-probe"
        )
    wanted = _shown(hold.temp_c, system)
    axes.axhline(wanted, color=INK, linewidth=1.2, linestyle=(0, (4, 3)), gid="chart-wanted")
    levels = [_shown(c, system) for log in series.values() for _, c in log]
    _set_levels(axes, [*levels, wanted])
    _title(axes, f"Core temperature, {_sign(system)}", shape)
    _set_times(axes, [at for log in series.values() for at, _ in (log[0], log[-1])], shape)
    return figure


def _coldest(log: "Series") -> "Series":
    """Of a long log the coldest reading of each stretch, so that no dip is lost."""
    step = max(len(log) // MOST_PROBE_POINTS, 1)
    return [
        min(log[begin : begin + step], key=lambda reading: reading[1])
        for begin in range(0, len(log), step)
    ]


def _draw_line(axes: "Axes", times: Sequence[datetime], values: Sequence[float], gid: str) -> None:
    for run in _runs(times):
        alone: dict[str, Any] = {"marker": "o", "markersize": 3}
        axes.plot(
            [_number(at) for at in times[run]],
            values[run],
            color=INK,
            linewidth=1.6,
            gid=gid,
            **(alone if run.stop - run.start == 1 else {}),
        )


def _runs(times: Sequence[datetime]) -> list[slice]:
    """Stretches without a gap; a line is not drawn across what nobody measured."""
    steps = [(later - earlier).total_seconds() for earlier, later in pairwise(times)]
    usual = sorted(steps)[len(steps) // 2] if steps else 0.0
    cuts = [i + 1 for i, step in enumerate(steps) if step > max(GAP_TIMES * usual, 600.0)]
    return [slice(a, b) for a, b in pairwise([0, *cuts, len(times)]) if b > a]


def _set_levels(axes: "Axes", values: Sequence[float]) -> None:
    from matplotlib.ticker import MaxNLocator

    room = max(0.12 * (max(values) - min(values)), 0.5)
    axes.set_ylim(min(values) - room, max(values) + room)
    axes.yaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10]))
    axes.get_yticks()
    for line in axes.get_ygridlines():
        line.set_gid("chart-grid")


def _set_times(axes: "Axes", times: Sequence[datetime], shape: Shape) -> None:
    """From the first to the last, with as many days or hours named as there is room for."""
    from matplotlib.dates import AutoDateLocator
    from matplotlib.ticker import FuncFormatter

    zone = timezone.get_current_timezone()
    first, last = min(times), max(times)
    margin = max((last - first) * 0.01, timedelta(minutes=5))
    axes.set_xlim(_number(first - margin), _number(last + margin))
    room = int(shape.width_in * 72 / (shape.words * 5.5))
    locator = AutoDateLocator(tz=zone, minticks=2, maxticks=max(room, 3))  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    shows_hours = last - first <= timedelta(days=4)

    def words(number: float, position: int | None = None) -> str:
        at = datetime.fromtimestamp(number * DAY_S, tz=zone)
        return f"{at:%H:%M}\n{at.day} {at:%b}" if shows_hours else f"{at.day} {at:%b}"

    axes.xaxis.set_major_formatter(FuncFormatter(words))


def _number(at: datetime) -> float:
    """A moment on the time axis: days since 1970, as the library counts them."""
    return at.timestamp() / DAY_S


def _title(axes: "Axes", words: str, shape: Shape) -> None:
    axes.set_title(words, loc="left", fontsize=shape.words, pad=shape.words * 0.4)


def _shown(temp_c: float, system: str) -> float:
    return temp_c if system == "metric" else temp_c * 1.8 + 32


def _sign(system: str) -> str:
    return "°C" if system == "metric" else "°F"
