"""Re-deriving the stored shapes of a stock, database and all, against the bare geometry.

10,000 slabs, six in ten traced (about 150 points each), the others from nine widths. Reported:
slabs a second when every row is made, when every row is compared and agrees, and when shapes are
only read; each as a ratio to `shape_of` alone on the same faces in the same run. Run with
`-m bench -n 0 -s`.
"""

import sys
from collections.abc import Callable, Iterator
from time import perf_counter

import numpy as np
import pytest
from django.utils import timezone

from inventory import derive, shapes
from inventory.models import Outline, Slab, SlabShape
from inventory.wood.shape import Face, face_of_widths, shape_of
from tests.factories import copy_slab, make_slab

SLABS, TRACED_SHARE, POINTS = 10_000, 0.6, 150

pytestmark = [pytest.mark.bench, pytest.mark.django_db]


def ring(seed: int) -> list[list[float]]:
    """A slab 2.4 m long with wandering edges, its points as a person leaves them."""
    rng = np.random.default_rng([7001, seed])
    x = np.linspace(0.0, 2400.0, POINTS // 2)
    waves = rng.uniform(-25, 25, (2, 4))
    bends = np.array([np.sin((k + 1) * x / 500.0) for k in range(4)])
    upper, lower = np.array([[330.0], [-330.0]]) + waves @ bends + rng.normal(0, 0.7, (2, len(x)))
    return [
        *map(list, zip(x, lower, strict=True)),
        *map(list, zip(x[::-1], upper[::-1], strict=True)),
    ]


def a_stock() -> None:
    first = make_slab([(i / 8, 640.0 + 9 * (i % 4)) for i in range(9)])
    copy_slab(first, SLABS - 1)
    keys = Slab.objects.order_by("pk").values_list("pk", flat=True)[: int(SLABS * TRACED_SHARE)]
    now = timezone.now()
    Outline.objects.bulk_create(
        (Outline(slab_id=pk, ring=ring(pk), at=now) for pk in keys), batch_size=derive.AT_ONCE
    )


def batches() -> Iterator[list[Slab]]:
    keys = list(Slab.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(keys), derive.AT_ONCE):
        yield derive.locked(keys[start : start + derive.AT_ONCE])


def seconds(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def faces() -> list[Face]:
    traced = [outline.face for outline in Outline.objects.all()]
    slab = Slab.objects.latest("pk")
    widths = [face_of_widths(slab.length_mm, slab.stations)] * (SLABS - len(traced))
    return [*traced, *widths]


def write_all() -> None:
    today = timezone.localdate()
    for some in batches():
        derive.write_many(some, today, "shape")


def test_bench_of_re_deriving_shapes() -> None:
    a_stock()
    all_faces = faces()
    bare = seconds(lambda: [shape_of(Face(f.ring_mm, f.holes_mm, f.bark_mm)) for f in all_faces])
    SlabShape.objects.all().delete()
    made = seconds(write_all)
    assert SlabShape.objects.count() == SLABS
    agreed = seconds(write_all)
    read = seconds(lambda: [shapes.shapes_of(some) for some in batches()])
    for words, took in (
        ("bare shape_of", bare),
        ("every row made", made),
        ("every row compared", agreed),
        ("only read", read),
    ):
        sys.stdout.write(
            f"\n{words:>20}: {SLABS / took:8,.0f} slabs a second, {took / bare:.2f} × bare"
        )
    sys.stdout.write("\n")
    assert made < 2.0 * bare
    assert read < 0.5 * bare
