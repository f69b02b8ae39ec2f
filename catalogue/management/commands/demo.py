"""`manage.py demo`: an invented yard to look around in, on this machine alone."""

import time
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from catalogue import serving
from catalogue.demo import mark
from inventory.models import ParcelCost, Person

OLD_DAYS = 21


class Bar:
    """The progress of loading on one line of the terminal; nothing where nobody watches."""

    def __init__(self) -> None:
        line = "{desc:<28}{percentage:3.0f} % |{bar}| {elapsed}"
        self.bar = tqdm(total=1, bar_format=line, disable=None)

    def begin(self, total: int) -> None:
        self.bar.reset(total)

    def stage(self, words: str) -> None:
        self.bar.set_description_str(words)

    def forward(self, done: int = 1) -> None:
        self.bar.update(done)


class Command(BaseCommand):
    help = "Bring up the demo yard: made on the first start, kept as you leave it afterwards."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-serve", action="store_true", help="only make the yard")
        parser.add_argument("--logs", type=_count, help="a smaller yard, of so many logs")

    def handle(self, *args: Any, **options: Any) -> None:
        serving.prepare(self.stdout.write)
        self._load_unless_loaded(options["logs"])
        self._print_people()
        if not options["no_serve"]:
            self._serve(options["host"], options["port"])

    def _load_unless_loaded(self, logs: int | None) -> None:
        if mark.is_loaded():
            self._mention_age()
        else:
            self._load(logs)

    def _load(self, logs: int | None) -> None:
        # What draws and dries takes a moment to import, which later starts should not wait for.
        from catalogue.demo import loading

        self.stdout.write("Making the demo yard, which takes up to a minute …")
        started = time.monotonic()
        bar = Bar()
        try:
            yard = loading.load(timezone.now(), progress=bar, logs=logs)
        except mark.OtherSlabs as refusal:
            raise CommandError(str(refusal)) from None
        except KeyboardInterrupt:
            raise CommandError("Stopped: nothing was kept. Start it again when you like.") from None
        finally:
            bar.bar.close()
        seconds = time.monotonic() - started
        name, count = yard.source.workshop.name, len(yard.pieces)
        self.stdout.write(f"{name}: {count} slabs, made up in {seconds:.0f} seconds.")

    def _mention_age(self) -> None:
        """Days are counted from the day of loading: an old yard has slabs nobody has read since."""
        loaded = ParcelCost.objects.order_by("pk").values_list("at", flat=True).first()
        if loaded and timezone.now() - loaded > timedelta(days=OLD_DAYS):
            days = (timezone.now() - loaded).days
            self.stdout.write(
                f"This yard was made {days} days ago, and nobody has worked in it since. "
                "For a fresh one, delete its folder, var/demo, and start again."
            )

    def _print_people(self) -> None:
        people = Person.objects.filter(is_active=True, groups__isnull=False)
        self.stdout.write("\nWho can sign in:")
        for name, first, last, role in people.order_by("pk").values_list(
            "username", "first_name", "last_name", "groups__name"
        ):
            self.stdout.write(f"  {name:<10} {role:<8} {first} {last}")
        self.stdout.write(f"  password   {mark.PASSWORD}")

    def _serve(self, host: str, port: int) -> None:
        port = serving.free_port(host, port)
        shown = "localhost" if host in ("127.0.0.1", "0.0.0.0", "::1") else host
        lan = serving.lan_address() if host == "0.0.0.0" else None
        serving.answer_to(*filter(None, (lan, host)))
        self.stdout.write(f"\nOpen http://{shown}:{port}/")
        if lan:
            self.stdout.write(f"From a phone here: http://{lan}:{port}/")
        self.stdout.write("Stop with Ctrl+C.")
        self.stdout.flush()
        serving.serve(host, port)


def _count(text: str) -> int:
    number = int(text)
    if number < 1:
        raise ValueError(text)
    return number
