"""A logger's file: kept, recognised, shown, put right by a person, and read in with its progress.

The file lies in the yard's private folder under a name nobody can guess until its rows are in or
it is dropped. Rows go in by batches, each with its progress in one transaction: an attempt that was
cut short is taken up where it stopped, and no moment is ever written twice.
"""

import codecs
import logging
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import connection, transaction
from django.db.models import F, Q
from django.utils import timezone

from inventory import air_table
from inventory.air_reading import AirColumns, read_columns
from inventory.air_table import Layout, Line, LineProblem, Lines
from inventory.air_writing import write_columns
from inventory.models import AirImport, AirSource, ImportState, Person, Place

logger = logging.getLogger(__name__)

BIGGEST_BYTES = 30 * 1024 * 1024
BATCH_ROWS = 5000
BAD_KEPT = 2000
SHOWN_ROWS = 8
# An attempt that says nothing for so long was cut short.
SILENT_S = 60
KEPT_FOR = timedelta(days=14)

_one_at_a_time = threading.Lock()


class Overtaken(Exception):
    """Another attempt has taken the file over: this one writes no more."""


@dataclass(frozen=True)
class ShownRow:
    """A line as it would be read: the record, or why it cannot be taken."""

    line: int
    at: datetime | None = None
    temp_c: float = 0.0
    rh_pct: float = 0.0
    emc_pct: float = 0.0
    reason: str = ""


@dataclass(frozen=True)
class Preview:
    """What a person looks at before the file is read in."""

    layout: Layout
    head: tuple[Line, ...]
    rows: tuple[ShownRow, ...]
    doubtful_date: str

    @property
    def is_ready(self) -> bool:
        return not self.layout.lacks and self.layout.day_order is not None


def receive(
    place: Place, file: "UploadedFile[Any]", *, by: Person, now: datetime, fahrenheit: bool
) -> AirImport:
    """Keep an uploaded file and find out how it is laid out; nothing goes on record yet.

    `fahrenheit` is for temperatures that bear no unit.

    Raises:
        ValidationError: it is too big, no text, or empty.
    """
    _forget_old(now)
    if (file.size or 0) > BIGGEST_BYTES:
        most = BIGGEST_BYTES // (1024 * 1024)
        raise ValidationError(f"That file is larger than {most} MB: send it in parts.")
    name = Path(file.name or "file").name[:200]
    kept = AirImport(place=place, by=by, uploaded_at=now, uploaded_name=name)
    try:
        kept.encoding = _keep(file, path_of(kept))
        table = air_table.guess(lines_of(kept), fahrenheit=fahrenheit)
        if not table.data:
            raise ValidationError("There is no line of air in that file.")
    except ValidationError:
        path_of(kept).unlink(missing_ok=True)
        raise
    kept.layout, kept.rows_total = (
        table.layout.as_json(),
        max(table.lines - table.layout.first + 1, 0),
    )
    kept.save(force_insert=True)
    return kept


def path_of(kept: AirImport) -> Path:
    return Path(settings.VAR_DIR) / "air_files" / f"{kept.token}.txt"


def lines_of(kept: AirImport) -> Lines:
    """The lines of the kept file, each time anew."""

    def lines() -> Iterator[str]:
        with path_of(kept).open(encoding=kept.encoding, errors="replace") as file:
            yield from file

    return lines


def layout_of(kept: AirImport) -> Layout:
    return Layout.from_json(kept.layout)


def has_lost_its_file(kept: AirImport) -> bool:
    """Whether an import not yet read in cannot be, its file being gone from the disk."""
    return kept.state == ImportState.SHOWN and not path_of(kept).is_file()


def preview(kept: AirImport) -> Preview:
    """How the file is understood and its first lines as they would be read."""
    layout, lines = layout_of(kept), lines_of(kept)
    head = air_table.head_of(lines, layout.parted_by)
    doubtful = ""
    if layout.day_order is None:
        doubtful = air_table.date_orders_seen(lines, layout, head).doubtful_date
    rows = () if layout.lacks or layout.day_order is None else _shown(lines, layout)
    return Preview(layout, head, rows, doubtful)


def read_as(kept: AirImport, layout: Layout) -> Layout:
    """Keep how a person says the file is to be read; the order of its dates is looked for where
    they did not say. Returns the layout as kept.
    """
    table = air_table.Table(layout, (), 0)
    if not layout.order_said:
        table = air_table.date_orders_seen(lines_of(kept), replace(layout, day_order=None), ())
    kept.layout = table.layout.as_json()
    kept.rows_total = max(_count(lines_of(kept)) - layout.first + 1, 0)
    waiting = AirImport.objects.filter(pk=kept.pk, state=ImportState.SHOWN)
    waiting.update(layout=kept.layout, rows_total=kept.rows_total)
    return layout_of(kept)


def start(kept: AirImport, now: datetime) -> bool:
    """Begin, or take up again, reading the file in; False when it is being read in already."""
    silent = Q(state=ImportState.RUNNING, beat_at__lt=now - timedelta(seconds=SILENT_S))
    may_begin = Q(state__in=[ImportState.SHOWN, ImportState.STOPPED]) | silent
    run_number = kept.run + 1
    begun = AirImport.objects.filter(may_begin, pk=kept.pk, run=kept.run).update(
        state=ImportState.RUNNING,
        run=run_number,
        started_at=kept.started_at or now,
        beat_at=now,
    )
    if not begun:
        return False
    if settings.AIR_IMPORTS_INLINE:
        run(kept.pk, run_number)
    else:
        name = f"air-file-{kept.pk}"
        threading.Thread(
            target=_run_apart, args=(kept.pk, run_number), name=name, daemon=True
        ).start()
    return True


def run(pk: int, run_number: int) -> None:
    """One attempt to read a file in; whatever goes wrong, the file says that it stopped."""
    mine = AirImport.objects.filter(pk=pk, run=run_number, state=ImportState.RUNNING)
    try:
        _read_in(mine.select_related("place", "by").get(), run_number)
    except (Overtaken, AirImport.DoesNotExist):
        return
    except Exception:  # a thread has nobody above it to tell; the page and the log are told
        logger.exception("Reading in the air file %s stopped", pk)
        mine.update(state=ImportState.STOPPED)


def is_cut_short(kept: AirImport, now: datetime) -> bool:
    """Whether its attempt stopped, or has said nothing for a minute (the server was restarted)."""
    if kept.state == ImportState.STOPPED:
        return True
    silent_since = now - timedelta(seconds=SILENT_S)
    return kept.state == ImportState.RUNNING and (kept.beat_at or now) < silent_since


def drop(kept: AirImport) -> None:
    """Forget the file; what went on record of it stays.

    Raises:
        ValidationError: it is being read in, or finished with.
    """
    waiting = Q(state__in=[ImportState.SHOWN, ImportState.STOPPED])
    silent = Q(beat_at__lt=timezone.now() - timedelta(seconds=SILENT_S))
    may_drop = waiting | (Q(state=ImportState.RUNNING) & silent)
    if not AirImport.objects.filter(may_drop, pk=kept.pk).update(state=ImportState.DROPPED):
        raise ValidationError("This file is being read in or finished with.")
    path_of(kept).unlink(missing_ok=True)


def progress_words(kept: AirImport) -> str:
    return f"{kept.rows_done:,} of {kept.rows_total:,} lines"


def _run_apart(pk: int, run_number: int) -> None:
    """In a thread of its own, one file at a time; its connection is closed behind it."""
    try:
        while not _one_at_a_time.acquire(timeout=SILENT_S / 4):
            AirImport.objects.filter(pk=pk, run=run_number).update(beat_at=timezone.now())
        try:
            run(pk, run_number)
        finally:
            _one_at_a_time.release()
    finally:
        connection.close()


def _read_in(kept: AirImport, run_number: int) -> None:
    assert kept.started_at is not None
    layout = layout_of(kept)
    # Judged as of the first start, so that an attempt taken up again sees the same rows.
    columns, problems = read_columns(lines_of(kept), layout, now=kept.started_at)
    done = max(kept.rows_done - kept.bad_total, 0)
    _say(kept, run_number, **_judged(columns, problems, done))
    for begin in range(done, len(columns), BATCH_ROWS):
        _write_batch(kept, run_number, columns.part(slice(begin, begin + BATCH_ROWS)))
    _watch(kept.place)
    now = timezone.now()
    _say(kept, run_number, state=ImportState.DONE, finished_at=now, rows_done=F("rows_total"))
    path_of(kept).unlink(missing_ok=True)


def _judged(columns: AirColumns, problems: list[LineProblem], done: int) -> dict[str, Any]:
    return {
        "rows_total": len(columns) + len(problems),
        "rows_done": done + len(problems),
        "bad_total": len(problems),
        "bad": [[one.line, one.text[:300], one.reason] for one in problems[:BAD_KEPT]],
    }


@transaction.atomic
def _write_batch(kept: AirImport, run_number: int, columns: AirColumns) -> None:
    written = write_columns(kept.place, columns, by=kept.by, source=AirSource.FILE)
    _say(
        kept,
        run_number,
        rows_done=F("rows_done") + len(columns),
        added=F("added") + written.added,
        known=F("known") + written.known,
        differing=F("differing") + written.differing,
    )


def _say(kept: AirImport, run_number: int, **progress: Any) -> None:
    """Write how far this attempt is, and that it lives.

    Raises:
        Overtaken: another attempt has begun.
    """
    mine = AirImport.objects.filter(pk=kept.pk, run=run_number, state=ImportState.RUNNING)
    if not mine.update(beat_at=timezone.now(), **progress):
        raise Overtaken


def _watch(place: Place) -> None:
    from inventory import watch  # which asks the air's modules itself

    watch.look_at_place(place, timezone.now())


def _shown(lines: Lines, layout: Layout) -> tuple[ShownRow, ...]:
    first_lines = layout.first - 1 + SHOWN_ROWS
    columns, problems = read_columns(
        lambda: islice(lines(), first_lines), layout, now=timezone.now()
    )
    numbers = (columns.line, columns.at_s, columns.temp_c, columns.rh_pct, columns.emc_pct)
    rows = [
        ShownRow(line, datetime.fromtimestamp(at_s, timezone.get_default_timezone()), *three)
        for line, at_s, *three in zip(*(c.tolist() for c in numbers), strict=True)
    ]
    rows += [ShownRow(one.line, reason=one.reason) for one in problems]
    return tuple(sorted(rows, key=lambda row: row.line))


def _count(lines: Lines) -> int:
    return sum(1 for _ in lines())


def _keep(file: "UploadedFile[Any]", path: Path) -> str:
    """Write the upload where only the yard reads it; returns the encoding its text is in.

    Raises:
        ValidationError: it is no text, or there is nothing in it.
    """
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    decoder = codecs.getincrementaldecoder("utf-8")()
    encoding, begun = "utf-8-sig", False
    with path.open("wb") as kept:
        for chunk in file.chunks():
            if chunk and not begun:
                encoding, begun = _encoding_of(chunk), True
            if encoding == "utf-8-sig":
                encoding = _still_utf8(decoder, chunk)
            kept.write(chunk)
    if not begun:
        raise ValidationError("There is nothing in that file.")
    return encoding


def _encoding_of(beginning: bytes) -> str:
    if beginning.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if b"\0" in beginning[:4096] or beginning.startswith((b"PK", b"%PDF")):
        raise ValidationError("That is not a text file: save it as CSV and choose that one.")
    return "utf-8-sig"


def _still_utf8(decoder: codecs.IncrementalDecoder, chunk: bytes) -> str:
    try:
        decoder.decode(chunk)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _forget_old(now: datetime) -> None:
    """Files nobody came back to."""
    waiting = AirImport.objects.filter(
        uploaded_at__lt=now - KEPT_FOR, state__in=[ImportState.SHOWN, ImportState.STOPPED]
    )
    for kept in waiting:
        drop(kept)
