"""Opening a charge, adding to it, ending it; a log of core temperature."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from inventory import charges, codes, core_logs
from inventory.asked import whole_number
from inventory.charges import Ended
from inventory.core_logs import CoreTaken
from inventory.forms.asking import Asking
from inventory.forms.moves import slabs_of
from inventory.forms.pasted_table import PastedTableForm
from inventory.forms.slabs import place_and_bay, where_choices
from inventory.forms.text_files import text_of
from inventory.models import Bay, Charge, ChargeSlab, Person, Place, PlaceKind, Slab
from inventory.models.place import SHOP_AIR
from inventory.models.slab import SlabQuerySet
from inventory.wood import measure

MOST_SHOWN = 200
LOOK = "look"
DATE = forms.DateInput({"type": "date"}, "%Y-%m-%d")


class SlabTicks(forms.CheckboxSelectMultiple):
    """Slabs to tick, each in a line big enough for a glove."""

    template_name = "inventory/charges/slab_ticks.html"


class PickSlabs(Asking, forms.Form):
    """Slabs ticked where they lie, or typed by their codes. "Show" looks in another place and
    keeps what is ticked.
    """

    look_in = forms.ChoiceField(required=False, label="Look in")
    slabs = forms.MultipleChoiceField(required=False, label="Slabs that go in", widget=SlabTicks)
    codes = forms.CharField(
        required=False,
        label="Or type their codes",
        help_text="One below the other, or with commas between.",
        widget=forms.Textarea({"rows": 3, "autocapitalize": "characters", "spellcheck": "false"}),
    )
    on = forms.DateField(label="Day", widget=DATE)
    where = forms.ChoiceField(label="Where to")

    def __init__(
        self,
        data: QueryDict | None,
        *,
        where: Sequence[tuple[str, Any]],
        system: str,
        today: date,
        look_in: str = "",
        initial: dict[str, Any] | None = None,
    ) -> None:
        self.system = system
        self.only_looks = data is not None and LOOK in data
        self.looked_in = data.get("look_in", "") if data else look_in
        self.unshown = 0
        start = {"on": today, "look_in": self.looked_in, **(initial or {})}
        if data is not None and self.only_looks:
            start |= _as_typed(data)
        super().__init__(None if self.only_looks else data, initial=start, label_suffix="")
        self.fields["on"].widget.attrs["max"] = today.isoformat()
        self._choose("look_in", where_choices())
        self._choose("where", where)
        ticked = data.getlist("slabs") if data else []
        self._choose("slabs", self._offered(ticked))

    def _choose(self, name: str, choices: Sequence[tuple[str, Any]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = list(choices)

    def _offered(self, ticked: list[str]) -> list[tuple[str, str]]:
        """What is ticked already, then what lies where one looks, as one walks."""
        inside = ChargeSlab.objects.filter(left_on__isnull=True)
        free = Slab.objects.in_stock().exclude(pk__in=inside.values("slab"))
        kept = _clean_codes(ticked)
        chosen = list(Slab.objects.filter(code__in=kept).select_related("species"))
        there = list(self._there(free)[: MOST_SHOWN + 1])
        self.unshown = max(len(there) - MOST_SHOWN, 0)
        known = {slab.pk for slab in chosen}
        lines = [*chosen, *(slab for slab in there[:MOST_SHOWN] if slab.pk not in known)]
        return [(slab.code, tick_words(slab, self.system)) for slab in lines]

    def _there(self, free: SlabQuerySet) -> SlabQuerySet:
        kind, _, asked = self.looked_in.partition("-")
        key = whole_number(asked)
        if key is None or kind not in ("bay", "place"):
            return free.none()
        return free.filter(**{kind: key}).select_related("species").in_walking_order()

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        said["chosen"] = self._chosen(said)
        if not said["chosen"] and not {"slabs", "codes"} & set(self.errors):
            self.add_error("slabs", "Tick at least one slab, or type its code.")
        elif not self.errors:
            self._ask_about_wet(said)
        return said

    def _chosen(self, said: dict[str, Any]) -> list[Slab]:
        """Ticked and typed, each once, in that order."""
        try:
            typed = slabs_of(split_codes(said.get("codes") or ""))
        except ValidationError as problem:
            self.add_error("codes", problem)
            typed = []
        ticked = slabs_of(said.get("slabs") or [])
        return list({slab.pk: slab for slab in [*ticked, *typed]}.values())

    def _ask_about_wet(self, said: dict[str, Any]) -> None:
        """Of a kiln; a tick covers just these slabs: another one more is asked about anew."""
        place, _ = place_and_bay(said["where"])
        question = charges.wet_words(said["chosen"])
        if not question or place is None or place.kind != PlaceKind.KILN:
            return
        self.ask("slabs", question)
        field: Any = self.fields["slabs"]
        if getattr(field, "keep_token", ""):
            field.keep_text = "these slabs"

    def typed(self, name: str) -> str:
        if name != "slabs" or not isinstance(self.data, QueryDict):
            return super().typed(name)
        codes_typed = split_codes(self.data.get("codes", ""))
        return ",".join(sorted({*self.data.getlist("slabs"), *codes_typed}))

    def take(self, problem: ValidationError) -> None:
        """Set each sentence beside the field a person would change."""
        beside = {"place": "where", "bay": "where", "started_on": "on"}
        for name, sentences in _by_field(problem).items():
            field = beside.get(name, name)
            self.add_error(field if field in self.fields else None, sentences)


class OpenChargeForm(PickSlabs):
    """A new charge: its kiln or room, its first day, its slabs."""

    name = forms.CharField(
        required=False,
        max_length=60,
        label="Name",
        help_text="Leave it empty to call it after its place, with the next number.",
    )
    note = forms.CharField(required=False, label="Note", widget=forms.Textarea({"rows": 2}))
    field_order = ("where", "on", "look_in", "slabs", "codes", "name", "note")

    def __init__(self, data: QueryDict | None, **kwargs: Any) -> None:
        super().__init__(data, where=dryer_choices(), **kwargs)
        self.fields["on"].label = "First day"
        self.fields["where"].label = "Kiln or room"

    def opened(self, by: Person, now: datetime) -> Charge | None:
        """The charge, or None with what is wrong beside its field."""
        said = self.cleaned_data
        place, bay = place_and_bay(said["where"])
        assert place is not None
        try:
            return charges.open_charge(
                place,
                said["chosen"],
                started_on=said["on"],
                by=by,
                now=now,
                name=said["name"].strip(),
                bay=bay,
                note=said["note"],
            )
        except ValidationError as problem:
            self.take(problem)
            return None


class AddToChargeForm(PickSlabs):
    """More slabs into a charge that runs."""

    field_order = ("on", "where", "look_in", "slabs", "codes")

    def __init__(self, data: QueryDict | None, *, charge: Charge, **kwargs: Any) -> None:
        self.charge = charge
        super().__init__(data, where=bay_choices([charge.place]), **kwargs)
        self.fields["on"].label = "Day they go in"
        self.fields["where"].label = "Where in it"

    def added(self, by: Person, now: datetime) -> int | None:
        """How many went in, or None with what is wrong beside its field."""
        said = self.cleaned_data
        _, bay = place_and_bay(said["where"])
        try:
            stays = charges.add_slabs(
                self.charge, said["chosen"], on=said["on"], by=by, now=now, bay=bay
            )
        except ValidationError as problem:
            self.take(problem)
            return None
        return len(stays)


class EndChargeForm(forms.Form):
    """Its last day, and where its slabs rest."""

    on = forms.DateField(label="Last day", widget=DATE)
    where = forms.ChoiceField(label="Where they rest", help_text="Shop air: no kiln, no shed.")

    def __init__(self, data: QueryDict | None, *, charge: Charge, today: date) -> None:
        super().__init__(data, initial={"on": today}, label_suffix="")
        self.charge = charge
        self.fields["on"].widget.attrs["max"] = today.isoformat()
        where = self.fields["where"]
        assert isinstance(where, forms.ChoiceField)
        where.choices = bay_choices(Place.objects.filter(kind__in=SHOP_AIR))

    def ended(self, by: Person, now: datetime) -> Ended | None:
        """What was done, or None with what is wrong beside its field."""
        place, bay = place_and_bay(self.cleaned_data["where"])
        assert place is not None
        try:
            return charges.end_charge(
                self.charge, place=place, bay=bay, on=self.cleaned_data["on"], by=by, now=now
            )
        except ValidationError as problem:
            for name, sentences in _by_field(problem).items():
                field = {"place": "where", "bay": "where"}.get(name, name)
                self.add_error(field if field in self.fields else None, sentences)
            return None


class CoreLogForm(PastedTableForm):
    """A log of core temperature, pasted or from a file, whose text goes into the box."""

    file = forms.FileField(
        required=False,
        label="A file, as the logger or a spreadsheet writes it (CSV or text)",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,text/*"}),
    )
    field_order = ("file", "text")
    text_label = "Or paste the log"
    text_help = (
        "The time, then a temperature for each probe with its name above it; or lines of time, "
        "probe and temperature."
    )
    nothing_to_read = "There is nothing to read: paste the log, or choose a file."

    def __init__(
        self,
        data: QueryDict | None = None,
        files: "MultiValueDict[str, UploadedFile[Any]] | None" = None,
        *,
        system: str,
    ) -> None:
        self.file_problem = ""
        super().__init__(self._with_file(data, files), system=system)

    def _with_file(
        self, data: QueryDict | None, files: "MultiValueDict[str, UploadedFile[Any]] | None"
    ) -> QueryDict | None:
        file = files.get("file") if files else None
        if data is None or file is None:
            return data
        full = data.copy()
        try:
            full["text"] = text_of(file)
        except ValidationError as problem:
            self.file_problem = " ".join(problem.messages)
        return full

    def clean(self) -> dict[str, Any]:
        if self.file_problem:
            self.add_error("file", self.file_problem)
        return super().clean()

    def taken_by(self, charge: Charge, by: Person, now: datetime) -> CoreTaken | None:
        """What became of the log, or None with what is wrong beside its field."""
        return self._taken(
            lambda text, fahrenheit, day_order: core_logs.take_log(
                charge, text, by=by, now=now, fahrenheit=fahrenheit, day_order=day_order
            )
        )


class SetAsideForm(forms.Form):
    why = forms.CharField(
        label="Why it is set aside",
        max_length=200,
        error_messages={"required": "Say why it is set aside."},
    )


def tick_words(slab: Slab, system: str) -> str:
    """`K7M-4Q, black walnut, 2⅛ in thick, 18 %`."""
    thick = measure.format_length(slab.thickness_mm, system, kind="slab_thickness")
    wet = "never checked" if slab.mc_pct is None else f"{slab.mc_pct:.1f}{measure.NBSP}%"
    return f"{slab}, {slab.species.common_name}, {thick} thick, {wet}"


def dryer_choices() -> list[tuple[str, Any]]:
    return bay_choices(Place.objects.filter(kind__in=charges.DRYERS))


def bay_choices(places: Any) -> list[tuple[str, Any]]:
    """Places with their bays as choices `place-3` and `bay-12`, a group for a place with bays."""
    by_place: dict[int, list[Bay]] = {}
    for bay in Bay.objects.filter(place__in=places).order_by("position", "name"):
        by_place.setdefault(bay.place_id, []).append(bay)
    choices: list[tuple[str, Any]] = []
    for place in places:
        inside = [(f"bay-{bay.pk}", bay.name) for bay in by_place.get(place.pk, [])]
        whole = (f"place-{place.pk}", f"{place.name}, no bay" if inside else place.name)
        choices.append((place.name, [whole, *inside]) if inside else whole)
    return choices


def split_codes(text: str) -> list[str]:
    """Codes as they are typed one below the other or with commas between."""
    return [
        part.strip()
        for part in text.replace(",", "\n").replace(";", "\n").split("\n")
        if part.strip()
    ]


def _clean_codes(typed: Sequence[str]) -> list[str]:
    """Those that are codes at all; what was ticked comes from a page, and may be anything."""
    found = []
    for text in typed:
        try:
            found.append(codes.normalise(text))
        except codes.CodeProblem:
            continue
    return found


def _as_typed(data: QueryDict) -> dict[str, Any]:
    """What stood in the fields when one looked in another place."""
    typed = {name: data[name] for name in data if name not in ("csrfmiddlewaretoken", LOOK)}
    return {**typed, "slabs": data.getlist("slabs")}


def _by_field(problem: ValidationError) -> dict[str, list[str]]:
    if hasattr(problem, "error_dict"):
        return problem.message_dict
    return {"": problem.messages}
