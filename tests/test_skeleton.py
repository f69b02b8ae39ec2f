"""The house stands: no migration is missing, system checks are quiet, published species are in."""

import pytest
from django.core.management import call_command

from inventory import ledger
from inventory.models import HistoryIsKept, LedgerEntry, LedgerKind, Person, Species
from inventory.wood.species import published_species
from tests.factories import make_slab


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.django_db
def test_a_new_yard_knows_every_published_species() -> None:
    names = {row.common_name for row in published_species()}
    assert set(Species.objects.values_list("common_name", flat=True)) == names


@pytest.mark.django_db
def test_ledger_entries_cannot_be_changed_or_deleted(owner: Person) -> None:
    entry = ledger.write(make_slab(), LedgerKind.RECEIVED, by=owner)
    entry.note = "rewritten"
    with pytest.raises(HistoryIsKept):
        entry.save()
    with pytest.raises(HistoryIsKept):
        entry.delete()
    with pytest.raises(HistoryIsKept):
        LedgerEntry.objects.all().delete()
    with pytest.raises(HistoryIsKept):
        LedgerEntry.objects.update(note="rewritten")
