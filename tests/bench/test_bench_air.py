"""A logger's file of 100,000 rows read in, against parsing it and storing its rows bare.

The floor: split each line, make its numbers, and one prepared insert of all rows into a table of
the same columns; no recognising, no zones, no EMC, nothing looked for on record, no days. Run with
`-m bench -n 0`; the floor and the import take turns in one run, medians of processor time compared.
"""

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from statistics import median
from time import process_time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.utils import timezone

from inventory import air_imports
from inventory.models import AirImport, Person
from tests.factories import make_person, make_place

ROWS, ROUNDS = 100_000, 3


def logged() -> str:
    first = datetime(2024, 1, 1)
    lines = ["Date Time;Temp (°C);RH (%)"]
    for n in range(ROWS):
        moment = first + timedelta(minutes=10 * n)
        lines.append(f"{moment:%d.%m.%Y %H:%M};{15 + n % 83 / 10:.1f};{40 + n % 197 / 10:.1f}")
    return "\n".join(lines)


def floor(text: str) -> None:
    rows = []
    for line in text.splitlines()[1:]:
        at, temp, rh = line.split(";")
        moment = datetime.strptime(at, "%d.%m.%Y %H:%M").replace(tzinfo=UTC)
        rows.append((str(moment), float(temp), float(rh), 0.0, "rh", float(rh), "file"))
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE TEMP TABLE bare (a text, t float, rh float, e float, g text, v float, s text)"
        )
        cursor.executemany("INSERT INTO bare VALUES (%s, %s, %s, %s, %s, %s, %s)", rows)
        cursor.execute("DROP TABLE bare")


def read_in(content: bytes, by: Person) -> None:
    file = SimpleUploadedFile("air.csv", content)
    kept = air_imports.receive(make_place(), file, by=by, now=timezone.now(), fahrenheit=False)
    air_imports.start(kept, timezone.now())


def seconds(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return process_time() - start


@pytest.mark.bench
@pytest.mark.django_db
def test_a_hundred_thousand_rows_beside_bare_parsing_and_storing() -> None:
    text, by = logged(), make_person("Worker")
    content = text.encode()
    taken = [
        (seconds(lambda: floor(text)), seconds(lambda: read_in(content, by))) for _ in range(ROUNDS)
    ]
    bare, ours = median(pair[0] for pair in taken), median(pair[1] for pair in taken)
    sys.stderr.write(
        f"\n{ROWS:,} rows of air: {ours:.2f} s; bare {bare:.2f} s; ratio {ours / bare:.2f}\n"
    )
    assert set(AirImport.objects.values_list("state", "added")) == {("done", ROWS)}
