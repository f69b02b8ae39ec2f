"""A slab comes onto the record, is measured again, put right and priced."""

import random
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import agreement, codes, derive, parcels, receiving
from inventory.models import (
    CostKind,
    DryingStage,
    LedgerEntry,
    LedgerKind,
    PlaceKind,
    Slab,
    SlabShape,
    StageKind,
)
from tests.factories import (
    at,
    make_bay,
    make_log,
    make_parcel,
    make_person,
    make_place,
    make_slab,
    make_species,
)

pytestmark = pytest.mark.django_db
NOW = at(2026, 4, 1)


def facts(**kwargs: Any) -> Any:
    """A 2 m × 500 mm × 50 mm slab: 0.05 m³."""
    defaults: dict[str, Any] = {
        "length_mm": 2000.0,
        "thickness_mm": 50.0,
        "widths": [[0.0, 500.0], [1.0, 500.0]],
    }
    if not ({"species", "log"} & set(kwargs)):
        defaults["species"] = make_species()
    return {**defaults, **kwargs}


def sentence(problem: pytest.ExceptionInfo[ValidationError], field: str) -> str:
    return " ".join(problem.value.message_dict[field])


def test_a_received_slab_has_a_good_code_its_sizes_and_a_line_in_the_ledger() -> None:
    by = make_person()
    slab = receiving.receive(by, NOW, **facts(species=make_species(common_name="Old plum")))
    assert codes.is_valid(slab.code)
    stored = Slab.objects.get(pk=slab.pk)
    assert (stored.area_mm2, stored.volume_mm3) == (1_000_000.0, 50_000_000.0)
    entry = LedgerEntry.objects.get(slab=slab)
    assert (entry.kind, entry.by, entry.at) == (LedgerKind.RECEIVED, by, NOW)
    assert entry.after == "Old plum, 2000 × 500 × 50 mm"


def test_a_bay_says_its_place_and_the_first_stage_begins_there() -> None:
    bay = make_bay(make_place(PlaceKind.SHED, name="Long shed"), name="Bay 4")
    slab = receiving.receive(None, NOW, **facts(bay=bay))
    assert slab.place == bay.place
    stage = DryingStage.objects.get(slab=slab)
    assert (stage.kind, stage.place, stage.started_on) == (
        StageKind.AIR,
        bay.place,
        date(2026, 4, 1),
    )


def test_a_log_says_species_parcel_and_sawing_day() -> None:
    log = make_log(parcel=make_parcel(), sawn_on=date(2026, 3, 2))
    slab = receiving.receive(None, NOW, **facts(log=log, number_in_log=3))
    assert (slab.species, slab.parcel, slab.sawn_on) == (log.species, log.parcel, log.sawn_on)


def test_a_code_that_is_taken_is_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    taken = make_slab()
    draws = iter([taken.code, taken.code, "K7M4" + codes.with_check("K7M4")[-1]])
    monkeypatch.setattr(codes, "random_code", lambda rng: next(draws))
    assert receiving.receive(None, NOW, **facts()).code == codes.with_check("K7M4")


def test_a_code_somebody_else_takes_meanwhile_is_drawn_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    taken, free = make_slab(), codes.random_code(random.Random(4))
    draws = iter([taken.code, free])
    monkeypatch.setattr(receiving, "fresh_code", lambda: next(draws))
    assert receiving.receive(None, NOW, **facts()).code == free


def test_codes_are_found_even_when_chance_keeps_failing(monkeypatch: pytest.MonkeyPatch) -> None:
    taken = make_slab()
    monkeypatch.setattr(codes, "random_code", lambda rng: taken.code)
    monkeypatch.setattr(codes, "fresh_codes", lambda n, taken, rng: ["23456"])
    assert receiving.fresh_code() == "23456"


def test_a_bay_of_another_place_is_refused_beside_the_bay() -> None:
    bay = make_bay(make_place(name="Kiln"), name="Shelf 2")
    with pytest.raises(ValidationError) as problem:
        receiving.receive(None, NOW, **facts(bay=bay, place=make_place()))
    assert sentence(problem, "bay") == "The bay “Shelf 2” is not there: it is in Kiln."
    assert not Slab.objects.exists()


def test_a_number_stands_once_in_a_log_and_the_sentence_names_the_other_slab() -> None:
    log = make_log(number="L9")
    other = make_slab(log=log, number_in_log=2)
    with pytest.raises(ValidationError) as problem:
        receiving.receive(None, NOW, **facts(log=log, number_in_log=2))
    assert sentence(problem, "number_in_log") == (
        f"Log L9 has a slab 2 already: {other.display_code}."
    )


def test_two_people_at_once_get_the_sentence_and_not_the_databases_refusal(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    log = make_log()
    real, calls = agreement.check, []

    def look_before_the_other_wrote(slab: Slab, on: date) -> None:
        calls.append(slab)
        real(slab, on)
        if len(calls) == 1:
            make_slab(log=log, number_in_log=2)

    monkeypatch.setattr(agreement, "check", look_before_the_other_wrote)
    with pytest.raises(ValidationError) as problem:
        receiving.receive(None, NOW, **facts(log=log, number_in_log=2))
    assert "has a slab 2 already" in sentence(problem, "number_in_log")


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"number_in_log": 2}, "number_in_log", "Say which log"),
        ({"sawn_on": date(2026, 4, 2)}, "sawn_on", "has not come yet"),
        ({"asking_price": Decimal(-1)}, "asking_price", "below nothing"),
        ({"length_mm": 0.0}, "length_mm", "how long"),
        ({"widths": [[0.0, 0.0]]}, "widths", "more than nothing"),
        ({"widths": [[1.5, 20.0]]}, "widths", "somewhere on the slab"),
    ],
)
def test_facts_that_cannot_be_are_refused(wrong: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(ValidationError) as problem:
        receiving.receive(None, NOW, **facts(**wrong))
    assert words in sentence(problem, field)


def test_a_slab_is_the_wood_of_its_log() -> None:
    log = make_log(number="L7", species=make_species(common_name="Ash"), felled_on=date(2026, 2, 1))
    wrong = facts(log=log, species=make_species(common_name="Elm"), sawn_on=date(2026, 1, 31))
    with pytest.raises(ValidationError) as problem:
        receiving.receive(None, NOW, **wrong)
    assert sentence(problem, "species") == "Log L7 is Ash: this slab cannot be Elm."
    assert "before its log was felled" in sentence(problem, "sawn_on")


def test_a_new_slab_of_a_parcel_shares_its_cost_with_the_others() -> None:
    parcel = make_parcel()
    parcels.add_cost(parcel, CostKind.TIMBER, Decimal("900.00"), date(2026, 1, 2), by=None)
    first = receiving.receive(None, NOW, **facts(parcel=parcel))
    assert first.cost == Decimal("900.00")
    second = receiving.receive(None, NOW, **facts(parcel=parcel, length_mm=4000.0))
    first.refresh_from_db()
    assert (first.cost, second.cost) == (Decimal("300.00"), Decimal("600.00"))


def test_measuring_again_writes_one_line_with_before_and_after() -> None:
    slab, by = receiving.receive(None, NOW, **facts()), make_person()
    (entry,) = receiving.measure(
        slab, by, NOW, length_mm=2100.0, thickness_mm=50.0, widths=[[0.5, 400.0]], figures=["burl"]
    )
    assert entry.kind == LedgerKind.MEASURED
    assert entry.before == "Length 2000 mm; Widths 500, 500 mm; Figure none"
    assert entry.after == "Length 2100 mm; Widths 400 mm; Figure burl"
    slab.refresh_from_db()
    assert (slab.area_mm2, slab.figure_words) == (840_000.0, "|burl|")


def test_measuring_the_same_again_writes_nothing() -> None:
    slab = receiving.receive(None, NOW, **facts())
    assert receiving.measure(slab, None, NOW, length_mm=2000.0, faults=[]) == []
    assert slab.ledger.count() == 1


def test_a_reason_makes_it_a_correction() -> None:
    slab = receiving.receive(None, NOW, **facts())
    (entry,) = receiving.measure(slab, None, NOW, reason="Tape began at 10", length_mm=1900.0)
    assert (entry.kind, entry.note) == (LedgerKind.CORRECTED, "Tape began at 10")


def test_wood_changes_its_species_only_with_a_reason() -> None:
    slab, plum = receiving.receive(None, NOW, **facts()), make_species(common_name="Plum")
    with pytest.raises(ValidationError) as problem:
        receiving.measure(slab, None, NOW, species=plum)
    assert "Say why" in sentence(problem, "reason")
    receiving.measure(slab, None, NOW, reason="Misread the end grain", species=plum)
    assert Slab.objects.get(pk=slab.pk).species == plum


def test_a_log_that_was_not_known_may_be_added_without_a_reason() -> None:
    log = make_log()
    slab = receiving.receive(None, NOW, **facts(species=log.species))
    (entry,) = receiving.measure(slab, None, NOW, log=log, number_in_log=1)
    assert entry.kind == LedgerKind.MEASURED


def test_wood_of_another_log_goes_with_that_logs_parcel_and_both_parcels_share_anew() -> None:
    species = make_species()
    old, new = make_parcel(), make_parcel()
    for parcel in (old, new):
        parcels.add_cost(parcel, CostKind.TIMBER, Decimal("100.00"), date(2026, 1, 2), by=None)
    logs = [make_log(parcel=parcel, species=species) for parcel in (old, new)]
    stays = receiving.receive(None, NOW, **facts(log=logs[0]))
    goes = receiving.receive(None, NOW, **facts(log=logs[0]))
    receiving.measure(goes, None, NOW, reason="Wrong mark", log=logs[1])
    stays.refresh_from_db()
    goes.refresh_from_db()
    assert goes.parcel == new
    assert (stays.cost, goes.cost) == (Decimal("100.00"), Decimal("100.00"))


def test_a_new_size_shares_the_parcels_cost_anew() -> None:
    parcel = make_parcel()
    parcels.add_cost(parcel, CostKind.TIMBER, Decimal("900.00"), date(2026, 1, 2), by=None)
    first = receiving.receive(None, NOW, **facts(parcel=parcel))
    second = receiving.receive(None, NOW, **facts(parcel=parcel))
    receiving.measure(second, None, NOW, length_mm=4000.0)
    first.refresh_from_db()
    assert (first.cost, second.cost) == (Decimal("300.00"), Decimal("600.00"))


def test_words_too_many_for_one_line_of_the_ledger_take_two_and_none_is_lost() -> None:
    many = [[i / 58, 1000.0 + i / 7] for i in range(30)]
    slab = receiving.receive(None, NOW, **facts(widths=many))
    every_fault = ["crack", "shake", "knot", "rot", "hole", "insect", "metal", "cup", "bow"]
    entries = receiving.measure(
        slab, None, NOW, widths=[[0.5, 900.0]], faults=every_fault, length_mm=2500.0
    )
    assert len(entries) > 1
    told = " ".join(f"{entry.before} {entry.after}" for entry in entries)
    widths = [f"{1000 + i / 7:.1f}".removesuffix(".0") for i in range(30)]
    for words in (*widths, "Length 2500 mm", "insect holes"):
        assert words in told


def test_notes_change_without_a_line_in_the_ledger() -> None:
    slab = receiving.receive(None, NOW, **facts())
    assert receiving.measure(slab, None, NOW, house_note="Ask before planing") == []
    assert Slab.objects.get(pk=slab.pk).house_note == "Ask before planing"


def test_pricing_tells_the_ledger_in_money_and_moves_the_cost() -> None:
    slab = receiving.receive(None, NOW, **facts(asking_price=Decimal("900.00")))
    (entry,) = receiving.price(
        slab, None, NOW, asking_price=Decimal("1200.00"), own_cost=Decimal("80.50"), note="Burl"
    )
    assert (entry.kind, entry.note) == (LedgerKind.PRICED, "Burl")
    assert entry.before == "Asking price $900.00; Own cost none"
    assert entry.after == "Asking price $1,200.00; Own cost $80.50"
    assert Slab.objects.get(pk=slab.pk).cost == Decimal("80.50")


def test_pricing_the_same_writes_nothing() -> None:
    slab = receiving.receive(None, NOW, **facts())
    assert receiving.price(slab, None, NOW, asking_price=None, own_cost=None) == []


# Many at once


def test_slabs_received_together_stand_as_if_received_one_by_one() -> None:
    place, parcel = make_place(), make_parcel()
    log = make_log(parcel=parcel)
    shared: dict[str, Any] = {"log": log, "place": place, "thickness_mm": 54.0}
    rows: list[Any] = [
        {**shared, "length_mm": 2000.0, "widths": [[0.5, 600.0]], "number_in_log": 1},
        {**shared, "length_mm": 3000.0, "widths": [[0.5, 600.0]], "number_in_log": 2},
    ]
    together = receiving.receive_many(None, NOW, rows)
    parcels.add_cost(parcel, CostKind.TIMBER, Decimal("500.00"), NOW.date(), by=None)
    alone = receiving.receive(None, NOW, **{**rows[0], "number_in_log": 3, "parcel": None})
    for slab in (*together, alone):
        assert derive.differences(Slab.objects.get(pk=slab.pk), NOW.date()) == {}
        assert SlabShape.objects.filter(slab=slab).exists()
        kinds = list(slab.ledger.order_by("pk").values_list("kind", flat=True))
        assert kinds == [LedgerKind.RECEIVED, LedgerKind.STAGE]
    assert together[0].condition == alone.condition == Slab.objects.get(pk=alone.pk).condition


def test_of_slabs_received_together_each_wrong_one_is_named_and_none_is_kept() -> None:
    log = make_log(number="L9")
    rows: list[Any] = [
        facts(log=log, number_in_log=1),
        facts(log=log, number_in_log=1),
        facts(log=log, number_in_log=2, length_mm=0.0),
    ]
    with pytest.raises(receiving.RowsRefused) as refused:
        receiving.receive_many(None, NOW, rows)
    fields = {n: set(p.message_dict) for n, p in refused.value.problems.items()}
    assert fields == {1: {"number_in_log"}, 2: {"length_mm"}}
    assert not Slab.objects.exists()


def test_what_follows_from_slabs_received_together_takes_no_more_queries_for_more() -> None:
    counts = []
    for many in (2, 12):
        rows: list[Any] = [facts(place=make_place())] * many
        with CaptureQueriesContext(connection) as taken:
            receiving.receive_many(None, NOW, rows)
        saving = ('INSERT INTO "inventory_slab" ', "SELECT 1 AS", "SAVEPOINT", "RELEASE")
        rest = [one for one in taken if not one["sql"].startswith(saving)]
        counts.append(len(rest))
    assert counts[0] == counts[1]
