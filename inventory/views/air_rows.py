"""A place's records of air as a page lists them: latest first, those put right among them."""

from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.forms.temperature import degrees_sign, shown_temperature
from inventory.models import AirGiven, AirRecord, AirSource, Place

_GIVEN_WORDS = {AirGiven.WET_BULB: "wet bulb", AirGiven.DEW_POINT: "dew point"}


@dataclass(frozen=True)
class RecordRow:
    """A record, what was measured in words, how it came, and the record that put it right."""

    record: AirRecord
    given_words: str
    source_words: str
    put_right_by: AirRecord | None


def all_of(place: Place) -> QuerySet[AirRecord]:
    """Every record of a place, superseded ones too, latest moment first."""
    related = AirRecord.objects.select_related("by", "superseded_by__by")
    return related.filter(place=place).order_by("-at", "-pk")


class Rows:
    """The rows of a place, taken a slice at a time: one query for each."""

    def __init__(self, place: Place, system: str) -> None:
        self.records, self.system = all_of(place), system

    def __getitem__(self, part: slice) -> list[RecordRow]:
        return [row_of(record, self.system) for record in self.records[part]]


def of(place: Place, system: str) -> Rows:
    return Rows(place, system)


def row_of(record: AirRecord, system: str) -> RecordRow:
    return RecordRow(
        record,
        _given_words(record, system),
        _source_words(record),
        getattr(record, "superseded_by", None),
    )


def _given_words(record: AirRecord, system: str) -> str:
    if record.given == AirGiven.RH:
        return ""
    degrees = shown_temperature(round(record.given_value, 1), system)
    return (
        f"{_GIVEN_WORDS[AirGiven(record.given)]} {degrees}\N{NO-BREAK SPACE}{degrees_sign(system)}"
    )


def _source_words(record: AirRecord) -> str:
    who = record.by.called if record.by else "Nobody named"
    how = {AirSource.TYPED: "", AirSource.PASTED: ", pasted", AirSource.FILE: ", from a file"}
    return f"{who}{how[AirSource(record.source)]}"
