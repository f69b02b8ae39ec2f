"""A moisture check on the record: corrected, figured, in the ledger, superseded by a correction."""

from datetime import date, timedelta

import pytest

from inventory import derive
from inventory.checks import (
    CheckProblem,
    ReadingEntry,
    figures_of,
    last_mean_pct,
    last_meter_of,
    last_wood_temp_c_of,
)
from inventory.models import (
    Condition,
    LedgerKind,
    Method,
    MoistureCheck,
    Person,
    Reading,
    Slab,
    StageKind,
    Standing,
)
from tests.factories import make_meter, make_place, make_slab
from tests.inventory.check_helpers import FIVE, NOW, TODAY, record


def rested_slab() -> Slab:
    """A slab that has lain in the shop for three months."""
    shop = make_place()
    slab = make_slab(place=shop)
    slab.stages.create(kind=StageKind.SHOP, place=shop, started_on=TODAY - timedelta(days=90))
    return slab


def test_a_check_keeps_its_readings_and_figures(worker: Person) -> None:
    check = record(make_slab(), worker)
    assert check.readings.count() == 5
    assert check.mean_pct == pytest.approx(7.2)
    assert check.gradient_pct == pytest.approx(0.6)
    assert (check.places, check.is_trusted, check.by) == (3, True, worker)


def test_a_check_is_judged_at_once_on_the_slab(worker: Person) -> None:
    slab = rested_slab()
    record(slab, worker, on=TODAY - timedelta(days=20))
    check = record(slab, worker)
    stored = Slab.objects.get(pk=slab.pk)
    assert stored.condition == Condition.READY
    assert (stored.latest_check, stored.checked_on, stored.ready_since) == (check, TODAY, TODAY)
    assert stored.mc_pct == pytest.approx(7.2)
    assert not derive.differences(stored, TODAY, ["moisture"])


def test_an_older_check_entered_late_does_not_become_the_latest(worker: Person) -> None:
    slab = make_slab()
    latest = record(slab, worker)
    record(slab, worker, on=TODAY - timedelta(days=3))
    assert Slab.objects.get(pk=slab.pk).latest_check == latest


def test_cold_wood_is_corrected_upwards_and_the_steps_are_kept(worker: Person) -> None:
    """Cold wood reads low (James, FPL-GTR-6, 1988: from memory)."""
    meter = make_meter(corrects_temperature=False, corrects_species=True)
    reading = record(make_slab(), worker, meter=meter, wood_temp_c=0.0).readings.get(position=1)
    assert reading.raw_pct == 7.1
    assert reading.temperature_step_pct > 0.5
    steps = reading.temperature_step_pct + reading.species_step_pct
    assert reading.corrected_pct == pytest.approx(reading.raw_pct + steps)
    assert "for wood at 0 °C" in reading.correction


def test_a_meter_that_corrects_nothing_leaves_a_check_untrusted_without_a_temperature(
    worker: Person,
) -> None:
    meter = make_meter(corrects_temperature=False, corrects_species=False)
    slab = rested_slab()
    check = record(slab, worker, meter=meter, wood_temp_c=None)
    assert not check.is_trusted
    assert Slab.objects.get(pk=slab.pk).condition == Condition.UNKNOWN


@pytest.mark.parametrize(
    ("raw_pct", "flag"), [(5.9, "below"), (6.0, ""), (30.0, ""), (31.0, "above")]
)
def test_a_pin_reading_outside_6_to_30_is_kept_and_flagged(
    worker: Person, raw_pct: float, flag: str
) -> None:
    check = record(make_slab(), worker, readings=[ReadingEntry(raw_pct, along=0.5)])
    assert (check.readings.get().range_flag, check.is_trusted) == (flag, flag == "")


def test_weighing_is_trusted_whatever_its_number(worker: Person) -> None:
    scales = make_meter(method=Method.WEIGHING, corrects_temperature=False, corrects_species=False)
    check = record(
        make_slab(), worker, meter=scales, wood_temp_c=None, readings=[ReadingEntry(62.0)]
    )
    assert (check.mean_pct, check.is_trusted) == (62.0, True)


def test_a_depth_says_shell_or_core(worker: Person) -> None:
    depths = [ReadingEntry(8.0, along=0.5, depth_mm=depth) for depth in (5.0, 12.0, 27.0)]
    check = record(make_slab(), worker, readings=depths)
    assert [reading.zone for reading in check.readings.all()] == ["shell", "between", "core"]


def test_the_ledger_says_measured_with_before_and_after(worker: Person) -> None:
    slab = make_slab()
    record(slab, worker, on=TODAY - timedelta(days=20))
    record(slab, worker, readings=[ReadingEntry(8.0, along=0.5)], note="after the rain")
    entry = slab.ledger.newest_first()[0]
    assert (entry.kind, entry.by, entry.note) == (LedgerKind.MEASURED, worker, "after the rain")
    assert entry.before == "Moisture 7.2 % on 2026-04-30"
    assert entry.after == "Moisture 8.0 % at 1 place on 2026-05-20"


def test_the_same_key_sent_twice_stores_one_check(worker: Person) -> None:
    slab = make_slab()
    first = record(slab, worker, entry_key="abc")
    assert record(slab, worker, entry_key="abc") == first
    assert (slab.checks.count(), slab.ledger.count(), Reading.objects.count()) == (1, 1, 5)


def test_other_numbers_under_a_used_key_are_not_dropped_silently(worker: Person) -> None:
    slab = make_slab()
    record(slab, worker, entry_key="abc")
    with pytest.raises(CheckProblem, match="with other numbers"):
        record(slab, worker, entry_key="abc", readings=FIVE[:3])


def test_a_correction_supersedes_and_both_stay_readable(worker: Person) -> None:
    slab = make_slab()
    wrong = record(slab, worker, readings=[ReadingEntry(9.2, along=0.5)])
    right = record(slab, worker, readings=[ReadingEntry(8.2, along=0.5)], supersedes=wrong)
    assert list(slab.checks.current()) == [right]
    assert MoistureCheck.objects.get(pk=wrong.pk).mean_pct == 9.2
    assert Slab.objects.get(pk=slab.pk).mc_pct == 8.2
    entry = slab.ledger.newest_first()[0]
    assert (entry.kind, entry.before) == (LedgerKind.CORRECTED, "Moisture 9.2 % on 2026-05-20")


def test_a_check_is_corrected_once(worker: Person) -> None:
    slab = make_slab()
    wrong = record(slab, worker)
    record(slab, worker, supersedes=wrong)
    with pytest.raises(CheckProblem, match="Somebody has corrected this check already"):
        record(slab, worker, supersedes=wrong)


def test_a_check_of_another_slab_cannot_be_superseded(worker: Person) -> None:
    other = record(make_slab(), worker)
    with pytest.raises(CheckProblem, match="another slab"):
        record(make_slab(), worker, supersedes=other)


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"on": TODAY + timedelta(days=1)}, "on", "ahead of today"),
        ({"on": date(2026, 2, 27)}, "on", "sawn on 1 March"),
        ({"readings": []}, "readings", "at least one reading"),
        ({"readings": [ReadingEntry(8.0, depth_mm=60.0)]}, "readings", "within the thickness"),
        ({"readings": [ReadingEntry(301.0)]}, "readings", "between 0 and 300"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_nothing_is_stored(
    worker: Person, changes: dict[str, object], field: str, sentence: str
) -> None:
    slab = make_slab(sawn_on=date(2026, 3, 1))
    with pytest.raises(CheckProblem, match=sentence) as problem:
        record(slab, worker, **changes)
    assert problem.value.field == field
    assert (slab.checks.count(), slab.ledger.count()) == (0, 0)


def test_a_slab_that_is_gone_takes_no_check(worker: Person) -> None:
    slab = make_slab(standing=Standing.GONE, gone_how="sold")
    with pytest.raises(CheckProblem, match="gone"):
        record(slab, worker)


def test_figures_follow_from_the_stored_readings(worker: Person) -> None:
    check = record(make_slab(), worker)
    for name, value in figures_of(check).items():
        assert getattr(check, name) == pytest.approx(value)
    assert set(figures_of(check)) == MoistureCheck.derived_fields


def test_the_last_meter_temperature_and_mean_are_remembered(worker: Person, owner: Person) -> None:
    slab, meter = make_slab(), make_meter()
    first = record(slab, worker, meter=meter, wood_temp_c=4.0)
    record(slab, owner, now=NOW + timedelta(hours=1), readings=[ReadingEntry(9.0)])
    assert last_meter_of(worker) == meter
    assert last_wood_temp_c_of(worker, TODAY) == 4.0
    assert last_wood_temp_c_of(worker, TODAY + timedelta(days=1)) is None
    assert last_mean_pct(slab) == 9.0
    latest = slab.checks.current()[0]
    assert last_mean_pct(slab, leaving_out=latest) == first.mean_pct
    meter.is_retired = True
    meter.save()
    assert last_meter_of(worker) is None
