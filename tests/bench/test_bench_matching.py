"""A commission against a large stock: its whole ranking, database and all.

10,000 slabs each with its stored shape (of 200 different ones), and 100,000 of which those have
shapes that a ranking reads (the most promising by their figures). Beside it the floor: the same
figures and profiles as arrays at hand, one pass of bare numpy over them, and shapely's own proof
of the dozen placements shown. Then the best pair with resin among 1,000 slabs of one species
against one pass over the same edges. Run with `-m bench -n 0 -s`.
"""

import sys
from collections.abc import Callable
from datetime import date
from time import perf_counter
from typing import Any

import numpy as np
import pytest
import shapely
from django.utils import timezone

from catalogue import matching, options, pool
from catalogue.layout import pairs, quick
from catalogue.layout.tops import Top
from catalogue.models import Commission, HowMade
from inventory import derive
from inventory.models import Slab, SlabShape
from inventory.wood.shape import Shape
from tests.catalogue.layout.shapes import wavy
from tests.factories import copy_slab, make_commission, make_slab

pytestmark = [pytest.mark.bench, pytest.mark.django_db]
KINDS = 200


def a_stock(slabs: int, shaped: int) -> None:
    """Slabs in free stock; the first `shaped` of them with rows of shape, as SlabShape keeps it."""
    models = [wavy(seed, half_mm=260.0 + 1.2 * (seed - 5000)) for seed in range(5000, 5000 + KINDS)]
    first = make_slab([(i / 8, 640.0) for i in range(9)], length_mm=2400.0)
    derive.write(first, timezone.localdate(), "shape")
    copy_slab(first, slabs - 1)
    row = SlabShape.objects.get(slab=first)
    keys = list(Slab.objects.order_by("pk").values_list("pk", flat=True))
    every: list[Slab] = []
    rows: list[SlabShape] = []
    for at, pk in enumerate(keys):
        model = models[at % KINDS]
        figures = _figures(model)
        every.append(Slab(pk=pk, **figures, thickness_mm=54.0 + at % 5, mc_pct=6.0 + at % 17))
        if pk != first.pk and at < shaped:
            rows.append(_row(row, pk, model))
    names = [*_figures(models[0]), "thickness_mm", "mc_pct"]
    for start in range(0, len(every), 2000):
        Slab.objects.bulk_update(every[start : start + 2000], names, batch_size=500)
    SlabShape.objects.bulk_create(rows, batch_size=500)


def _figures(shape: Shape) -> dict[str, float]:
    return {
        "wood_mm2": shape.wood_mm2,
        "area_mm2": shape.area_mm2,
        "circle_mm": shape.circle[2],
        "greatest_width_mm": shape.greatest_width_mm,
        "mean_width_mm": shape.mean_width_mm,
    }


def _row(like: SlabShape, pk: int, shape: Shape) -> SlabShape:
    from inventory.models.outline import packed

    arrays: dict[str, Any] = {
        name: packed(getattr(shape, name)) for name in SlabShape.array_columns
    }
    x, y, across = shape.circle
    return SlabShape(
        slab_id=pk,
        basis=like.basis,
        wood=shapely.to_wkb(shape.wood),
        length_mm=shape.length_mm,
        circle_x_mm=x,
        circle_y_mm=y,
        circle_mm=across,
        area_mm2=shape.area_mm2,
        wood_mm2=shape.wood_mm2,
        mean_width_mm=shape.mean_width_mm,
        least_width_mm=shape.least_width_mm,
        greatest_width_mm=shape.greatest_width_mm,
        **arrays,
    )


def seconds(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def least(work: Callable[[], object], times: int = 3) -> float:
    return min(seconds(work) for _ in range(times))


def _anew(commission: Commission, on: date) -> matching.Ranking:
    """As the first time it is asked: no layout is remembered."""
    options.LAID.forget()
    return matching.candidates(commission, on)


def a_top() -> Commission:
    return make_commission(
        top_length_mm=1600, top_width_mm=620, finished_thickness_mm=40, start_on=None
    )


@pytest.mark.parametrize(("slabs", "shaped"), [(10_000, 10_000), (100_000, 2_500)])
def test_a_top_of_one_slab_against_a_stock(slabs: int, shaped: int) -> None:
    a_stock(slabs, shaped)
    commission, on = a_top(), timezone.localdate()
    if shaped < slabs:
        _only_shaped_promise_well(shaped)
    ranking = matching.candidates(commission, on)
    assert len(ranking.found) == matching.SHOWN
    ours = least(lambda: _anew(commission, on))
    large = pool.pool_of(Slab.objects.free())
    shapes = [candidate.option.layout.placed[0] for candidate in ranking.found]
    top = options.top_of(commission)
    profiles = [wavy(5000 + at, half_mm=260.0 + 1.2 * at).profile_mm for at in range(KINDS)]
    stacked = np.stack([profiles[at % KINDS] for at in range(2_000)])

    def bare() -> None:
        enough = (large.wood_mm2 >= top.area_mm2) & (large.circle_mm >= top.width_mm)
        np.lexsort((large.wood_mm2[enough], large.mc_pct[enough]))
        windows = np.lib.stride_tricks.sliding_window_view(stacked, 160, axis=1)
        windows[..., 1, :].min(axis=-1) - windows[..., 0, :].max(axis=-1)
        for placed in shapes:
            placed.polygon.contains(top.polygon)

    floor = least(bare)
    say(
        f"{slabs:,} slabs: ranked in {ours:.2f} s; bare arrays and proofs {floor:.2f} s "
        f"({ours / floor:.1f}); {ranking.counted.in_words}"
    )


def _only_shaped_promise_well(shaped: int) -> None:
    """Those without a stored shape lie farther from the moisture wanted, so come later."""
    keys = list(Slab.objects.order_by("pk").values_list("pk", flat=True)[shaped : shaped + 1])
    Slab.objects.filter(pk__gte=keys[0]).update(mc_pct=24.0)


def test_the_best_pair_among_a_thousand() -> None:
    shapes = [wavy(6000 + at, half_mm=170.0 + 0.1 * at) for at in range(1_000)]
    top = Top("rectangle", 1800, 950)
    found = pairs.best_pairs(top, shapes)
    assert found
    ours = least(lambda: pairs.best_pairs(top, shapes))
    edges = np.stack([shape.profile_mm[:, 0] for shape in shapes])[:, :180]

    def bare() -> None:
        """Every edge against every other once: the widest gap of each pair."""
        for row in edges:
            (row + edges).max(axis=1)

    floor = least(bare)
    say(
        f"best pair among 1,000: {ours:.2f} s for {len(found)} pairs laid out; one bare pass over "
        f"all pairs of edges {floor:.2f} s ({ours / floor:.1f})"
    )


def test_a_pass_over_ten_thousand_profiles() -> None:
    profiles = [wavy(5000 + at % KINDS).profile_mm for at in range(KINDS)] * 50
    top = Top("boat", 1700, 640, end_width_mm=440)
    ours = least(lambda: quick.spare_mm(top, profiles))
    stacked = np.stack(profiles)

    def bare() -> None:
        windows = np.lib.stride_tricks.sliding_window_view(stacked, 170, axis=1)
        windows[..., 1, :].min(axis=-1) - windows[..., 0, :].max(axis=-1)

    floor = least(bare)
    say(
        f"10,000 profiles at {len(quick.TURNS_DEG)} turns: {ours:.2f} s; one bare pass at one turn "
        f"{floor:.2f} s ({ours / floor:.1f})"
    )


def say(line: str) -> None:
    sys.stderr.write(line + "\n")


def test_resin_pairs_of_a_commission_say_where_they_stand() -> None:
    a_stock(1_000, 1_000)
    commission = make_commission(
        how_made=HowMade.RESIN_PAIR, top_length_mm=1800, top_width_mm=1000, use="resin"
    )
    on = timezone.localdate()
    matching.candidates(commission, on)
    again = seconds(lambda: matching.candidates(commission, on))
    ours = least(lambda: _anew(commission, on), 2)
    say(
        f"a commission for a resin pair among 1,000 slabs, database and all: {ours:.2f} s; "
        f"looked at again, its layouts remembered: {again:.2f} s"
    )
