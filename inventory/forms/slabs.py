"""Receiving a slab, measuring it again, pricing it, parting with it."""

import secrets
from collections.abc import Iterable
from datetime import datetime
from itertools import groupby
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError

from inventory import receiving
from inventory.asked import words_asked
from inventory.forms.fields import AsksLengths, LengthField
from inventory.forms.money import MoneyField
from inventory.forms.widths import WidthsField
from inventory.models import (
    Bay,
    Fault,
    Figure,
    GoneHow,
    LedgerEntry,
    Log,
    Parcel,
    Person,
    Place,
    Sawn,
    Slab,
    Species,
)
from inventory.viewer import Viewer
from inventory.wood.outline import from_least_middle_greatest

STATIONS, THREE = "stations", "three"
THREE_WIDTHS = ("width_least", "width_middle", "width_greatest")
ASKED = "What a client would pay."
COST = "Beside its share of a parcel."
NUMBER = {"inputmode": "numeric", "class": "number", "autocomplete": "off"}
Choices = list[tuple[Any, Any]]


class LogField(forms.CharField):
    """A log by its number, as written on it; cleaned to the Log, or None when left empty."""

    def to_python(self, value: Any) -> Any:
        number = super().to_python(value)
        if not number:
            return None
        known = Log.objects.select_related("species", "parcel")
        log = known.filter(number__iexact=words_asked(number)).first()
        if log is None:
            raise forms.ValidationError(
                f"No log has the number “{number}”. Look again, or leave it empty for now."
            )
        return log

    def prepare_value(self, value: Any) -> Any:
        return value.number if isinstance(value, Log) else value


class MeasuredForm(AsksLengths, forms.Form):
    """What is measured and seen on a slab, in the viewer's units."""

    log = LogField(
        required=False,
        label="Log",
        help_text="Species and day come with it.",
        widget=forms.TextInput(attrs={"list": "logs-here", "autocomplete": "off", "class": "size"}),
    )
    number_in_log = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=200,
        label="Number in sawn order",
        help_text="As they came off the saw.",
        widget=forms.TextInput(attrs=NUMBER),
    )
    species = forms.ModelChoiceField(Species.objects.by_name(), required=False)
    length_mm = LengthField(
        kind="slab_length", label="Length", error_messages={"required": "Say how long it is."}
    )
    thickness_mm = LengthField(
        kind="slab_thickness",
        label="Thickness",
        error_messages={"required": "Say how thick it is."},
    )
    widths_how = forms.ChoiceField(
        label="Widths, inside the bark",
        choices=[
            (STATIONS, "At equal spaces, end to end"),
            (THREE, "Least, middle and greatest"),
        ],
        widget=forms.RadioSelect,
        initial=STATIONS,
    )
    widths = WidthsField(
        required=False,
        label="Widths in order",
        help_text="As many as you took, both ends included, a comma and a space between.",
    )
    width_least = LengthField(kind="slab_width", label="Least", required=False)
    width_middle = LengthField(kind="slab_width", label="Middle", required=False)
    width_greatest = LengthField(kind="slab_width", label="Greatest", required=False)
    sawn = forms.ChoiceField(
        required=False, label="How it was sawn", choices=Sawn.choices, widget=forms.RadioSelect
    )
    sawn_on = forms.DateField(
        required=False, label="Sawn on", widget=forms.DateInput({"type": "date"}, "%Y-%m-%d")
    )
    figures = forms.MultipleChoiceField(
        required=False,
        label="Figure",
        choices=Figure.choices,
        widget=forms.CheckboxSelectMultiple,
    )
    faults = forms.MultipleChoiceField(
        required=False, choices=Fault.choices, widget=forms.CheckboxSelectMultiple
    )
    house_note = forms.CharField(
        required=False, label="Note for the house", widget=forms.Textarea({"rows": 3})
    )
    client_note = forms.CharField(
        required=False,
        label="Note for clients",
        help_text="Shown to clients beside the pictures.",
        widget=forms.Textarea({"rows": 3}),
    )

    # Where the record's own names differ from the form's.
    field_of = {"bay": "where", "place": "where"}

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_system(viewer.system)
        cast("WidthsField", self.fields["widths"]).system = viewer.system
        for name in ("length_mm", "thickness_mm"):
            self.fields[name].help_text = _example(name, viewer.system)
        cast("forms.ModelChoiceField[Species]", self.fields["species"]).choices = species_choices()

    def logs_here(self) -> Iterable[Log]:
        """The latest logs, offered while typing."""
        return Log.objects.select_related("species").order_by("-pk")[:60]

    def clean(self) -> dict[str, Any]:
        self.keep_untouched_lengths()
        three = self.cleaned_data.get("widths_how") == THREE
        self.cleaned_data["are_widths_unplaced"] = three
        if not self.cleaned_data.get("species") and not self.cleaned_data.get("log"):
            self._wrong_unless_wrong("species", "Say the species, or the log it was sawn from.")
        self._clean_widths()
        self.ask_about_lengths()
        return self.cleaned_data

    def _clean_widths(self) -> None:
        if self.cleaned_data.get("widths_how") == THREE:
            self._clean_three_widths()
            return
        for name in THREE_WIDTHS:
            self.errors.pop(name, None)
            self.cleaned_data.pop(name, None)
        stations = self.cleaned_data.get("widths")
        if stations == []:
            self._wrong_unless_wrong("widths", "Give at least one width.")
        elif stations:
            self._keep_untouched_widths()
            self._ask_about_widths(stations)

    def _keep_untouched_widths(self) -> None:
        field = cast("WidthsField", self.fields["widths"])
        stored = self.get_initial_for_field(field, "widths")
        if stored and self.typed("widths").split() == field.shown(stored).split():
            self.cleaned_data["widths"] = stored

    def _ask_about_widths(self, stations: list[list[float]]) -> None:
        questions = cast("WidthsField", self.fields["widths"]).doubts(stations)
        length_mm = self.cleaned_data.get("length_mm") or 0
        if not questions and length_mm and max(mm for _, mm in stations) > length_mm:
            questions = ["It would be wider than it is long: is that right?"]
        if questions:
            self.ask("widths", " ".join(questions))

    def _clean_three_widths(self) -> None:
        """Least, middle and greatest become stations; each missing one is told."""
        self.errors.pop("widths", None)
        three = [self.cleaned_data.get(name) for name in THREE_WIDTHS]
        for name, width_mm in zip(THREE_WIDTHS, three, strict=True):
            if width_mm is None:
                self._wrong_unless_wrong(name, "Give this width too.")
        least, middle, greatest = three
        if least is None or middle is None or greatest is None:
            return
        if not least <= middle <= greatest:
            self.add_error("width_middle", "The middle width lies between the other two.")
            return
        stations = from_least_middle_greatest(least, middle, greatest)
        self.cleaned_data["widths"] = [[at.along, at.width_mm] for at in stations]

    def _wrong_unless_wrong(self, name: str, sentence: str) -> None:
        if not self.has_error(name):
            self.add_error(name, sentence)

    def measured(self) -> receiving.Measured:
        """What the form says, as inventory/receiving.py takes it."""
        names = receiving.Measured.__annotations__
        said = {name: self.cleaned_data[name] for name in names}
        if said["species"] is None:
            said["species"] = said["log"].species
        return cast("receiving.Measured", said)

    def take(self, problem: ValidationError) -> None:
        """Show what the record refused beside the fields it is about."""
        for name, sentences in problem.message_dict.items():
            field = self.field_of.get(name, name)
            for sentence in sentences:
                self.add_error(field if field in self.fields else None, sentence)


class ReceiveForm(MeasuredForm):
    """A slab that comes onto the record. What a viewer may not set is not there."""

    where = forms.ChoiceField(required=False, label="Place and bay")
    parcel = forms.ModelChoiceField(
        Parcel.objects.all(), required=False, empty_label="Its log's parcel, or none"
    )
    asking_price = MoneyField(required=False, help_text=ASKED)
    own_cost = MoneyField(required=False, help_text=COST)
    entry_key = forms.CharField(widget=forms.HiddenInput, max_length=40)

    guarded = {"parcel": "keep_parcels", "asking_price": "price_slab", "own_cost": "price_slab"}

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        for name, codename in self.guarded.items():
            if not viewer.can(codename):
                del self.fields[name]
        cast("forms.ChoiceField", self.fields["where"]).choices = where_choices()
        self.fields["entry_key"].initial = secrets.token_urlsafe(16)

    def received(self, by: Person, now: datetime) -> Slab | None:
        """The slab on the record, or None with what is wrong beside its field."""
        said = self.cleaned_data
        place, bay = place_and_bay(said["where"])
        facts: dict[str, Any] = {**self.measured(), "place": place, "bay": bay}
        names = ("house_note", "client_note", *self.guarded)
        facts |= {name: said[name] for name in names if name in said}
        try:
            return receiving.receive(by, now, **cast("receiving.Facts", facts))
        except ValidationError as problem:
            self.take(problem)
            return None


class MeasureForm(MeasuredForm):
    """A slab measured again, or its record put right."""

    reason = forms.CharField(
        required=False,
        max_length=300,
        label="Why, if this puts a slip right",
        help_text="Leave it empty when the slab was simply measured again.",
    )

    def __init__(self, data: Any = None, *, slab: Slab, viewer: Viewer) -> None:
        self.slab = slab
        names = [*receiving.Measured.__annotations__, *receiving.Notes.__annotations__]
        initial = {name: getattr(slab, name) for name in names} | _three_of(slab)
        super().__init__(data, initial=initial, viewer=viewer)

    def measured_again(self, by: Person, now: datetime) -> list[LedgerEntry] | None:
        """The ledger entries written, or None with what is wrong beside its field."""
        said = self.cleaned_data
        notes = {name: said[name] for name in receiving.Notes.__annotations__}
        changes = cast("receiving.Changes", {**self.measured(), **notes})
        try:
            return receiving.measure(self.slab, by, now, reason=said["reason"], **changes)
        except ValidationError as problem:
            self.take(problem)
            return None


class PriceForm(forms.Form):
    asking_price = MoneyField(required=False, help_text=ASKED)
    own_cost = MoneyField(required=False, help_text=COST)
    note = forms.CharField(required=False, max_length=300, label="Why")

    def __init__(self, data: Any = None, *, slab: Slab) -> None:
        initial = {"asking_price": slab.asking_price, "own_cost": slab.own_cost}
        super().__init__(data, initial=initial)


class GoneForm(forms.Form):
    """How a slab left the stock. A promise on it must be ended knowingly."""

    how = forms.ChoiceField(
        label="What became of it",
        choices=GoneHow.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what became of it."},
    )
    note = forms.CharField(
        required=False, max_length=300, label="What for, to whom, or why", widget=forms.TextInput
    )
    even_if_promised = forms.BooleanField(
        required=False, label="Yes, part with it all the same: the promise ends"
    )

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("how") == GoneHow.WRITTEN_OFF and not said.get("note"):
            self.add_error("note", "Say why it is written off.")
        return said


def species_choices() -> Choices:
    """Species of this yard first, then all the others, each by name."""
    here = set(Species.objects.in_stock().values_list("pk", flat=True))
    rows = Species.objects.by_name().values_list("pk", "common_name", "is_published")
    named = [(pk, name if published else f"{name} (our own)") for pk, name, published in rows]
    ours = [choice for choice in named if choice[0] in here]
    others = [choice for choice in named if choice[0] not in here]
    groups = [("In this yard", ours), ("Others", others)]
    return [("", "As its log says"), *((words, group) for words, group in groups if group)]


def where_choices() -> Choices:
    """Every place with its bays, one group a place; values `place-3` and `bay-12`."""
    bays = Bay.objects.select_related("place").order_by("place_id", "position", "name")
    by_place = {pk: list(some) for pk, some in groupby(bays, key=lambda bay: bay.place_id)}
    groups: Choices = [("", "Not put anywhere yet")]
    for place in Place.objects.all():
        inside = [(f"bay-{bay.pk}", bay.name) for bay in by_place.get(place.pk, [])]
        groups.append((place.name, [(f"place-{place.pk}", f"{place.name}, no bay"), *inside]))
    return groups


def place_and_bay(where: str) -> tuple[Place | None, Bay | None]:
    """What a valid choice of `where_choices` stands for."""
    kind, _, key = where.partition("-")
    if kind == "bay":
        bay = Bay.objects.select_related("place").get(pk=key)
        return bay.place, bay
    return (Place.objects.get(pk=key) if kind == "place" else None), None


def where_value(slab: Slab) -> str:
    """The choice that says where a slab lies."""
    if slab.bay_id:
        return f"bay-{slab.bay_id}"
    return f"place-{slab.place_id}" if slab.place_id else ""


def _three_of(slab: Slab) -> dict[str, Any]:
    """How the form starts where only three widths were taken, and not where along the slab."""
    if not slab.are_widths_unplaced or len(slab.widths) != len(THREE_WIDTHS):
        return {}
    three = zip(THREE_WIDTHS, sorted(width for _, width in slab.widths), strict=True)
    return {"widths_how": THREE, "widths": [], **dict(three)}


def _example(name: str, system: str) -> str:
    examples = {
        "length_mm": {"metric": "Such as 2400 mm or 2.4 m.", "imperial": "Such as 7' 10\" or 94."},
        "thickness_mm": {"metric": "Such as 54 or 8/4.", "imperial": "Such as 2 1/8 or 8/4."},
    }
    return examples[name][system]
