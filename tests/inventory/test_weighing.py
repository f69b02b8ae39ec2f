"""Weighing a whole slab: the moisture it tells of, and how it goes on the record."""

from datetime import timedelta
from typing import Any

import pytest

from inventory import checks, weighing
from inventory.checks import CheckProblem
from inventory.models import Basis, HistoryIsKept, MoistureCheck, Person, Slab, Weighing
from inventory.weighing import WeighingEntry, record_weighing
from inventory.wood.weighing import WeighingProblem
from tests.factories import make_slab
from tests.inventory.check_helpers import NOW, TODAY, record

EARLIER = WeighingEntry(41.7, Basis.EARLIER, earlier_kg=44.0, earlier_mc_pct=15.0)


def weigh(slab: Slab, by: Person, entry: WeighingEntry = EARLIER, **kwargs: Any) -> MoistureCheck:
    return record_weighing(slab, entry, by=by, **{"on": TODAY, "now": NOW, **kwargs})


@pytest.mark.parametrize(
    ("entry", "mc_pct"),
    [
        (WeighingEntry(41.7, Basis.OVEN_DRY, oven_dry_kg=38.26), 8.99),
        (EARLIER, 8.99),
        (WeighingEntry(50.0, Basis.SECTIONS, sections=((0.171, 0.1), (0.087, 0.05))), 72.5),
        (WeighingEntry(2150, Basis.EARLIER, earlier_kg=2850, earlier_mc_pct=72.5), 30.1),
    ],
)
def test_each_basis_gives_its_moisture_content(entry: WeighingEntry, mc_pct: float) -> None:
    assert weighing.mc_pct(entry) == pytest.approx(mc_pct, abs=0.05)


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        (WeighingEntry(41.7, Basis.OVEN_DRY), "oven_dry"),
        (WeighingEntry(41.7, Basis.EARLIER, earlier_mc_pct=9.0), "earlier_mass"),
        (WeighingEntry(41.7, Basis.EARLIER, earlier_kg=44.0), "earlier_mc"),
        (WeighingEntry(41.7, Basis.SECTIONS), "sections"),
        (WeighingEntry(30.0, Basis.OVEN_DRY, oven_dry_kg=38.0), "mass"),
    ],
)
def test_what_is_missing_or_cannot_be_names_its_field(entry: WeighingEntry, field: str) -> None:
    with pytest.raises(WeighingProblem) as problem:
        weighing.mc_pct(entry)
    assert problem.value.field == field


def test_a_weighing_is_a_trusted_check_of_the_whole_slab(worker: Person) -> None:
    slab = make_slab()
    check = weigh(slab, worker)
    assert check.mean_pct == pytest.approx(8.99, abs=0.01)
    assert (check.is_trusted, check.meter, check.core_pct, check.spread_pct) == (
        True, None, None, None,
    )  # fmt: skip
    assert check.readings.get().correction == "Weighed, so it needs no correction."
    assert check.weighing is not None
    assert check.weighing.mass_kg == 41.7
    slab.refresh_from_db()
    assert slab.mc_pct == check.mean_pct
    assert "Moisture 9.0 % by weighing, 41.70 kg" in slab.ledger.get().after


def test_a_wet_slab_is_trusted_beyond_a_meters_range(worker: Person) -> None:
    entry = WeighingEntry(80.0, Basis.EARLIER, earlier_kg=85.0, earlier_mc_pct=70.0)
    check = weigh(make_slab(), worker, entry)
    assert check.mean_pct == pytest.approx(60.0)
    assert check.is_trusted


def test_a_form_sent_twice_stores_one_weighing(worker: Person) -> None:
    slab = make_slab()
    first = weigh(slab, worker, entry_key="k")
    assert weigh(slab, worker, entry_key="k") == first
    assert Weighing.objects.count() == 1
    other = WeighingEntry(40.0, Basis.EARLIER, earlier_kg=44.0, earlier_mc_pct=15.0)
    with pytest.raises(CheckProblem, match="with other numbers"):
        weigh(slab, worker, other, entry_key="k")


def test_a_correction_supersedes_weighing_and_check(worker: Person) -> None:
    slab = make_slab()
    wrong = weigh(slab, worker)
    entry = WeighingEntry(42.7, Basis.EARLIER, earlier_kg=44.0, earlier_mc_pct=15.0)
    right = weigh(slab, worker, entry, supersedes=wrong.weighing)
    assert right.supersedes == wrong
    assert weighing.last_weighing(slab) == right.weighing
    assert slab.checks.current().get() == right
    with pytest.raises(CheckProblem, match="corrected this check already"):
        weigh(slab, worker, entry, supersedes=wrong.weighing)
    assert Weighing.objects.count() == 2


def test_a_weighing_is_never_rewritten(worker: Person) -> None:
    row = weigh(make_slab(), worker).weighing
    assert row is not None
    for act in (row.save, row.delete, Weighing.objects.all().delete):
        with pytest.raises(HistoryIsKept):
            act()


def test_no_weighing_ahead_of_today_and_none_of_a_slab_that_is_gone(worker: Person) -> None:
    slab = make_slab()
    with pytest.raises(CheckProblem, match="ahead of today"):
        weigh(slab, worker, on=TODAY + timedelta(days=1))
    Slab.objects.filter(pk=slab.pk).update(standing="gone", gone_how="sold")
    with pytest.raises(CheckProblem, match="is gone"):
        weigh(slab, worker)
    assert not Weighing.objects.exists()


def test_masses_that_no_wood_has_are_refused(worker: Person) -> None:
    entry = WeighingEntry(410.0, Basis.OVEN_DRY, oven_dry_kg=38.0)
    with pytest.raises(WeighingProblem, match="That makes 979 %"):
        weigh(make_slab(), worker, entry)


def test_one_days_weighing_and_meter_check_stand_side_by_side(worker: Person) -> None:
    slab = make_slab()
    weighed = weigh(slab, worker)
    assert weighing.side_by_side(slab, TODAY) is None
    metered = record(slab, worker)
    pair = weighing.side_by_side(slab, TODAY)
    assert pair is not None
    assert (pair.weighed, pair.metered) == (weighed, metered)
    assert weighing.side_by_side(slab, TODAY - timedelta(days=1)) is None
    assert weighing.side_by_side(slab, None) is None


def test_a_mass_far_from_the_slabs_volume_is_doubted(db: None) -> None:
    """0.085 m³ of walnut at 0.51: about 47 kg oven-dry (FPL-GTR-190, ch. 4, from memory)."""
    slab = make_slab()
    assert weighing.doubt_about_mass(slab, 60.0) is None
    doubted = weighing.doubt_about_mass(slab, 6.0)
    assert doubted is not None
    assert doubted[0] == pytest.approx(0.0902 * 0.51 / (1 - 0.265 * 0.51) * 1000, rel=0.03)
    assert weighing.doubt_about_mass(slab, 600.0) is not None


def test_the_wood_temperature_is_not_taken_from_a_weighing(worker: Person) -> None:
    slab = make_slab()
    record(slab, worker, wood_temp_c=12.0)
    weigh(slab, worker)
    assert checks.last_wood_temp_c_of(worker, TODAY) == 12.0
