"""Prove that every stored result follows from the facts (`--check`), or mend those that do not."""

from collections.abc import Iterator
from itertools import islice
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from inventory.management.yard import needs_yard
from inventory.rederiving import Drift, Pass, passes

LISTED = 20


class Command(BaseCommand):
    help = (
        "Derive every stored result anew (sizes, moisture, standing, cover, cost, figures of "
        "checks, EMC) and mend what differs; with --check only say what differs."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--check", action="store_true", help="Change nothing; fail when anything differs."
        )
        parser.add_argument(
            "--forecasts",
            action="store_true",
            help="Forecasts too, each made again as of its own day: some hundred a second.",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        needs_yard()
        check = bool(options["check"])
        looked = passes(mend=not check, with_forecasts=bool(options["forecasts"]))
        count, first = _tally(drift for one in looked for drift in _drifts(one, mend=not check))
        seen = ", ".join(dict.fromkeys(f"{one.rows():,} {one.words}" for one in looked))
        if not count:
            self.stdout.write(f"Looked at {seen}: every stored result agrees.")
            return
        for drift in first:
            self.stdout.write(str(drift))
        if count > LISTED:
            self.stdout.write(f"and {count - LISTED:,} more")
        if check:
            raise CommandError(f"Looked at {seen}: {count:,} stored results have drifted.")
        self.stdout.write(f"Looked at {seen}: {count:,} stored results were mended.")


def _drifts(one: Pass, mend: bool) -> Iterator[Drift]:
    today = timezone.localdate()
    # No bar where nobody watches (a pipe, a test).
    with tqdm(total=one.rows(), desc=one.words, unit="", leave=False, disable=None) as bar:
        for keys in one.batches():
            yield from one.look(keys, today, mend)
            bar.update(len(keys))


def _tally(drifts: Iterator[Drift]) -> tuple[int, list[Drift]]:
    """How many there are, and the first of them: a wholly drifted yard must not fill memory."""
    first = list(islice(drifts, LISTED))
    return len(first) + sum(1 for _ in drifts), first
