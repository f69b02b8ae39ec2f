"""Forecast anew the slabs whose forecast is missing or older than a week; with --all, every one."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone
from tqdm import tqdm

from inventory import forecasting
from inventory.management.yard import needs_yard
from inventory.models import Slab


class Command(BaseCommand):
    help = (
        "Work out anew when slabs will be dry, and when each is next due a check: those whose "
        "forecast is missing, older than a week, or from before their last check or move."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--all", action="store_true", help="Every slab in stock.")

    def handle(self, *args: Any, **options: Any) -> None:
        needs_yard()
        on = timezone.localdate()
        stock = Slab.objects.in_stock().order_by("pk")
        keys = (
            list(stock.values_list("pk", flat=True)) if options["all"] else forecasting.wanting(on)
        )
        # No bar where nobody watches (a pipe, a test).
        with tqdm(total=len(keys), unit="", leave=False, disable=None) as bar:
            for first in range(0, len(keys), forecasting.AT_ONCE):
                some = keys[first : first + forecasting.AT_ONCE]
                bar.update(forecasting.forecast_again(some, on))
        slabs = "slab" if len(keys) == 1 else "slabs"
        self.stdout.write(f"{len(keys):,} {slabs} forecast anew.")
