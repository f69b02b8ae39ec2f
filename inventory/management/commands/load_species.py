"""`manage.py load_species`: put the published species table into the database, or refresh it."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from inventory import species_table
from inventory.models import Species


class Command(BaseCommand):
    help = "Add the published species, or refresh their numbers; a shop's own species stay."

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        new = species_table.load(Species)
        total = Species.objects.filter(is_published=True).count()
        self.stdout.write(f"{total} published species, {new} of them new.")
