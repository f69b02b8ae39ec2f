"""Outlines on the record: kept, superseded, taken back; the slab's figures follow them."""

from datetime import timedelta
from decimal import Decimal
from io import StringIO
from typing import Any

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from shapely import Point, Polygon

from inventory import derive, outlines, parcels, shapes
from inventory.models import (
    CostKind,
    FaceSide,
    HistoryIsKept,
    LedgerKind,
    Outline,
    Person,
    ShapeBasis,
    Slab,
    SlabShape,
    SplitBasis,
)
from inventory.photos import doubts
from inventory.photos.trace import judge
from inventory.wood import measure
from inventory.wood.shape import shape_of
from tests.factories import copy_slab, make_parcel, make_person, make_slab

pytestmark = pytest.mark.django_db

# A trapezoid 2000 mm long, 400 mm across at one end and 600 mm at the other: 1,000,000 mm² (exact).
TRAPEZOID = [(0.0, 100.0), (2000.0, 0.0), (2000.0, 600.0), (0.0, 500.0)]
HOLE = [(900.0, 200.0), (1000.0, 200.0), (1000.0, 300.0), (900.0, 300.0)]


def keep(slab: Slab, ring: Any = TRAPEZOID, holes: Any = (), **kwargs: Any) -> Outline:
    defaults: dict[str, Any] = {
        "side": FaceSide.UPPER,
        "photo": None,
        "scale": None,
        "raised_mm": 0.0,
        "clicks": ring,
        "traced": ring,
        "traced_holes": holes,
        "judged": judge(ring, holes),
        "is_bark_inside": False,
        "bark_mm": 0.0,
        "corrected_points": 2,
        "by": None,
        "now": timezone.now(),
    }
    return outlines.keep(slab, **{**defaults, **kwargs})


def stored(slab: Slab) -> Slab:
    return Slab.objects.get(pk=slab.pk)


def test_board_feet_follow_the_outline_and_not_the_widths() -> None:
    slab = make_slab(thickness_mm=50.8)
    before = measure.board_feet(stored(slab).volume_mm3)
    keep(slab)
    after = stored(slab)
    # 1 m² × 2 in: 1,000,000 / 92,903.04 mm² a square foot × 2 (exact; a board foot is 144 in³).
    assert measure.board_feet(after.volume_mm3) == pytest.approx(2 * 1e6 / 92_903.04)
    assert measure.board_feet(after.volume_mm3) != pytest.approx(before, rel=0.01)
    assert after.wood_mm2 == pytest.approx(1e6)
    assert after.shape_basis == ShapeBasis.TRACED
    assert not shapes.shapes_of([slab])[slab.pk].is_approximate


def test_a_hole_and_bark_inside_the_line_are_no_wood() -> None:
    slab = make_slab()
    keep(slab, holes=[HOLE], is_bark_inside=True, bark_mm=10.0)
    after = stored(slab)
    bare = Polygon(TRAPEZOID).buffer(-10.0).area - 100.0 * 100.0
    assert after.area_mm2 == pytest.approx(1e6)
    assert after.wood_mm2 == pytest.approx(bare, rel=1e-3)
    assert after.volume_mm3 == pytest.approx(after.wood_mm2 * slab.thickness_mm)


def test_with_both_faces_traced_volume_is_of_their_mean() -> None:
    slab = make_slab(thickness_mm=60.0)
    keep(slab)
    keep(slab, [(0, 0), (2000, 0), (2000, 450), (0, 350)], side=FaceSide.LOWER)
    after, row = stored(slab), SlabShape.objects.get(slab=slab)
    assert after.volume_mm3 == pytest.approx((1_000_000 + 800_000) / 2 * 60.0)
    assert after.wood_mm2 == pytest.approx(1e6)
    assert row.lower_wood_mm2 == pytest.approx(800_000)


def test_the_lower_face_alone_stands_for_the_slab() -> None:
    slab = make_slab(thickness_mm=60.0)
    keep(slab, side=FaceSide.LOWER)
    assert stored(slab).volume_mm3 == pytest.approx(1e6 * 60.0)
    assert stored(slab).shape_basis == ShapeBasis.TRACED


def test_a_later_outline_supersedes_and_rewrites_nothing() -> None:
    slab, by = make_slab(), make_person()
    first = keep(slab, by=by)
    second = keep(slab, [(0, 0), (2000, 0), (2000, 500), (0, 500)], by=by)
    assert second.supersedes == first
    assert outlines.current(slab) == {FaceSide.UPPER: second}
    assert Outline.objects.filter(slab=slab).count() == 2
    with pytest.raises(HistoryIsKept):
        first.save()
    entry = slab.ledger.newest_first()[0]
    assert (entry.kind, entry.by) == (LedgerKind.OUTLINED, by)
    assert "2000 mm long, 1.000 m² of wood" in entry.before
    assert entry.after.startswith("Upper face, 2000 mm long")


def test_taken_back_the_slab_is_what_its_widths_say() -> None:
    slab = make_slab()
    before = stored(slab)
    keep(slab)
    outlines.withdraw(slab, FaceSide.UPPER, make_person(), timezone.now())
    after = stored(slab)
    assert after.volume_mm3 == pytest.approx(before.volume_mm3)
    assert after.shape_basis == ShapeBasis.WIDTHS
    assert outlines.current(slab) == {}
    assert slab.ledger.newest_first()[0].kind == LedgerKind.UNTRACED
    with pytest.raises(ValidationError, match="no outline to take back"):
        outlines.withdraw(slab, FaceSide.UPPER, None, timezone.now())
    again = keep(slab)
    assert again.supersedes is not None
    assert again.supersedes.is_withdrawn


def test_a_slab_without_widths_loses_its_shape_with_its_outline() -> None:
    slab = make_slab()
    Slab.objects.filter(pk=slab.pk).update(widths=[])
    slab = stored(slab)
    keep(slab)
    outlines.withdraw(slab, FaceSide.UPPER, None, timezone.now())
    assert not SlabShape.objects.filter(slab=slab).exists()
    assert stored(slab).volume_mm3 == 0
    assert shapes.shapes_of([stored(slab)]) == {}


def test_the_page_of_a_slab_only_traced_says_its_widths_and_the_ledger_who_traced_it(
    owner_client: Client, worker: Person
) -> None:
    slab = make_slab()
    Slab.objects.filter(pk=slab.pk).update(widths=[])
    slab = stored(slab)
    derive.write(slab, timezone.localdate(), "shape")
    assert "not taken yet" in owner_client.get(slab.get_absolute_url()).content.decode()
    keep(slab, by=worker)
    page = owner_client.get(slab.get_absolute_url()).content.decode()
    assert "Least to greatest" in page
    assert "not taken yet" not in page
    address = reverse("inventory:slab_ledger", args=[slab.code])
    told = owner_client.get(address).content.decode()
    assert "Outline traced" in told
    assert worker.called in told
    assert "2000 mm long, 1.000 m² of wood" in told


@pytest.mark.parametrize(
    ("kwargs", "field"),
    [
        ({"ring": [(0, 0), (2000, 500), (2000, 0), (0, 500)]}, "traced"),
        ({"ring": [(0, 0), (2000, 0)]}, "traced"),
        ({"is_bark_inside": True, "bark_mm": 0.0}, "bark_mm"),
        ({"is_bark_inside": True, "bark_mm": float("nan")}, "bark_mm"),
        (
            {
                "ring": [(0, 0), (2000, 0), (2000, 60), (0, 60)],
                "is_bark_inside": True,
                "bark_mm": 31,
            },
            "bark_mm",
        ),
        ({"side": "edge"}, "side"),
    ],
)
def test_what_cannot_be_kept_is_refused_beside_its_field(kwargs: Any, field: str) -> None:
    slab = make_slab()
    with pytest.raises(ValidationError) as refused:
        keep(slab, **kwargs)
    assert field in refused.value.message_dict
    assert not Outline.objects.exists()
    assert slab.ledger.count() == 0


def test_shares_of_a_parcel_follow_the_true_areas() -> None:
    parcel = make_parcel(split_basis=SplitBasis.AREA)
    square = [(0.0, 1000.0), (1.0, 1000.0)]
    first = make_slab(square, length_mm=3000.0, parcel=parcel)
    second = make_slab(square, length_mm=3000.0, parcel=parcel)
    parcels.add_cost(
        parcel, CostKind.TIMBER, Decimal("400.00"), timezone.localdate(), by=make_person()
    )
    assert stored(first).cost == Decimal("200.00")
    keep(first)
    assert (stored(first).cost, stored(second).cost) == (Decimal("100.00"), Decimal("300.00"))


# --- proving what is stored --------------------------------------------------------------


def rederive(**options: Any) -> str:
    out = StringIO()
    call_command("rederive", stdout=out, **options)
    return out.getvalue()


def checked() -> str:
    out = StringIO()
    with pytest.raises(CommandError, match="drifted"):
        call_command("rederive", check=True, stdout=out)
    return out.getvalue()


TAMPERED = [
    ("wood_mm2", 5.0),
    ("circle_mm", 1.0),
    ("doubles_back", True),
    ("basis", ShapeBasis.THREE),
    ("capacity_mm", b"\0" * 8),
    ("upper_mm", b"\0" * 16),
    ("wood", b"nonsense"),
]


@pytest.mark.parametrize(("column", "wrong"), TAMPERED)
def test_a_tampered_shape_is_found_and_mended(column: str, wrong: Any) -> None:
    slab = make_slab()
    keep(slab)
    right = getattr(SlabShape.objects.get(slab=slab), column)
    assert "agrees" in rederive(check=True)
    SlabShape.objects.filter(slab=slab).update(**{column: wrong})
    assert f"{slab.display_code}, its shape: {column}" in checked()
    assert "1 stored results were mended" in rederive()
    assert getattr(SlabShape.objects.get(slab=slab), column) == right


def test_a_database_without_shapes_serves_and_is_mended() -> None:
    traced, plain = make_slab(), make_slab()
    keep(traced)
    before = shapes.shapes_of([traced, plain])
    SlabShape.objects.all().delete()
    meanwhile = shapes.shapes_of([traced, plain])
    for pk, shape in before.items():
        assert meanwhile[pk].wood.equals(shape.wood)
        assert meanwhile[pk].is_approximate == shape.is_approximate
    assert "its shape: shape is None" in checked()
    assert "2 stored results were mended" in rederive()
    assert SlabShape.objects.count() == 2
    assert "agrees" in rederive(check=True)


def test_a_row_of_a_slab_never_measured_is_found() -> None:
    slab = make_slab()
    Slab.objects.filter(pk=slab.pk).update(widths=[])
    assert "its shape: shape is 'From widths along it'" in checked()
    rederive()
    assert not SlabShape.objects.exists()


def test_what_is_stored_comes_back_as_the_geometry_made_it() -> None:
    slab = make_slab()
    outline = keep(slab, holes=[HOLE])
    kept, made = shapes.shapes_of([slab])[slab.pk], shape_of(outline.face)
    assert kept.wood.equals(made.wood)
    for name in SlabShape.array_columns:
        assert np.array_equal(getattr(kept, name), getattr(made, name)), name
    assert kept.circle == made.circle


def test_shapes_come_in_one_query_however_many() -> None:
    slab = make_slab()
    keep(slab)
    copy_slab(slab, 1000)
    counts = []
    for some in (10, 1000):
        rows = list(Slab.objects.all()[:some])
        shapes.write(found[shapes.ROW] for found in shapes.derived_many(rows).values())
        with CaptureQueriesContext(connection) as asked:
            assert len(shapes.shapes_of(rows)) == some
        counts.append(len(asked))
    assert counts == [1, 1]


def test_many_are_kept_in_queries_that_do_not_grow() -> None:
    slabs = [make_slab() for _ in range(24)]
    counts = []
    for some in (slabs[:2], slabs[2:]):
        faces = [
            (
                slab,
                outlines.Traced(
                    FaceSide.UPPER, None, None, judge(TRAPEZOID), clicks=[], traced=TRAPEZOID
                ),
            )
            for slab in some
        ]
        with CaptureQueriesContext(connection) as asked:
            outlines.keep_many(faces, by=None, now=timezone.now() - timedelta(days=1))
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert Slab.objects.filter(shape_basis=ShapeBasis.TRACED).count() == 24


# --- what the draft doubted ---------------------------------------------------------------


def test_doubted_stretches_are_kept_where_the_line_was_left_as_drafted() -> None:
    slab = make_slab()
    # Of the draft 40 cm of the lower edge hardly showed, and a place that was dragged away since.
    weak = [(x, 500.0 + 0.05 * x) for x in np.arange(800.0, 1200.1, 4.0)]
    kept = keep(slab, weak=[*weak, (1000.0, 250.0)])
    assert len(kept.doubtful) == len(weak)
    (stretch,) = outlines.doubts(kept)
    # Exact: 400 mm along x on a slope of 1 in 20, and 4 mm at either end.
    assert doubts.length_mm(stretch) == pytest.approx(400 * np.hypot(1, 0.05) + 8, abs=0.5)
    # In the slab's own mm, on its outline.
    ring = Polygon(kept.ring)
    assert max(ring.exterior.distance(Point(*place)) for place in stretch) < 1e-6


def test_a_withdrawn_outline_has_no_doubts() -> None:
    slab = make_slab()
    keep(slab, weak=[(0.0, float(y)) for y in range(100, 500, 4)])
    assert outlines.doubts(outlines.withdraw(slab, FaceSide.UPPER, None, timezone.now())) == ()
