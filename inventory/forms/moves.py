"""Moving a slab, or a stack of them."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory import codes, moves
from inventory.forms.slabs import place_and_bay, where_choices, where_value
from inventory.models import Bay, Person, Place, Slab, StageKind

# More places and bays than this are a list to pick from instead of tiles to tap.
MOST_TILES = 60
MOST_AT_ONCE = 500
NO_BAY = "No bay"
_BETWEEN_CODES = re.compile(r"[\n,;]+")


class WhereTiles(forms.RadioSelect):
    """Places and their bays as tiles big enough for gloves."""

    template_name = "inventory/moves/where_tiles.html"


class GoingForm(forms.Form):
    """How and when: what moving one slab and moving many have in common."""

    stage = forms.ChoiceField(
        required=False,
        label="How it is dried there",
        choices=[("", "As is usual there"), *StageKind.choices],
        widget=forms.RadioSelect,
    )
    on = forms.DateField(label="Moved on", widget=forms.DateInput({"type": "date"}, "%Y-%m-%d"))
    note = forms.CharField(required=False, max_length=300, label="Note")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        initial = {"on": today, **kwargs.pop("initial", {})}
        super().__init__(*args, **{"label_suffix": "", **kwargs, "initial": initial})
        self.fields["on"].widget.attrs["max"] = today.isoformat()

    @property
    def stage_said(self) -> StageKind | None:
        said = self.cleaned_data["stage"]
        return StageKind(said) if said else None

    def take(self, problem: ValidationError, beside: dict[str, str]) -> None:
        """Set each sentence beside the field a person would change."""
        for name, sentences in problem.message_dict.items():
            field = beside.get(name, name)
            self.add_error(field if field in self.fields else None, sentences)


class MoveForm(GoingForm):
    """Where one slab goes."""

    where = forms.ChoiceField(
        label="Where to",
        widget=WhereTiles,
        error_messages={"required": "Say where it goes."},
    )
    field_order = ("where", "stage", "on", "note")

    def __init__(self, *args: Any, slab: Slab, **kwargs: Any) -> None:
        initial = {"where": where_value(slab)}
        super().__init__(*args, initial=initial, **kwargs)
        choices = _tiles()
        where = self.fields["where"]
        assert isinstance(where, forms.ChoiceField)
        if sum(len(inside) for _, inside in choices) > MOST_TILES:
            where.widget = forms.Select()
        where.choices = choices

    def moved(self, slab: Slab, by: Person, now: datetime) -> bool:
        """Whether it moved; if not, what is wrong stands beside its field."""
        said = self.cleaned_data
        place, bay = place_and_bay(said["where"])
        assert place is not None
        try:
            moves.move(
                slab,
                place=place,
                bay=bay,
                by=by,
                on=said["on"],
                now=now,
                note=said["note"],
                stage=self.stage_said,
            )
        except ValidationError as problem:
            self.take(problem, {"place": "where", "bay": "where"})
            return False
        return True


def _tiles() -> list[tuple[str, list[tuple[str, str]]]]:
    """Places with their bays, each named as short as its tile; a place alone is “no bay”."""
    return [
        (name, [(key, words if key.startswith("bay-") else NO_BAY) for key, words in inside])
        for name, inside in where_choices()
        if name
    ]


class BayField(forms.ModelChoiceField[Bay]):
    """Bays of one place, by their own names."""

    def label_from_instance(self, obj: Any) -> str:
        return str(obj.name)


class MoveHereForm(GoingForm):
    """A stack that comes to one place: codes as they are read off the tags."""

    codes = forms.CharField(
        label="Codes of the slabs",
        help_text="One below the other, or with commas between.",
        widget=forms.Textarea({"rows": 6, "autocapitalize": "characters", "spellcheck": "false"}),
        error_messages={"required": "Type the code of at least one slab."},
    )
    bay = BayField(Bay.objects.none(), required=False, empty_label=NO_BAY)
    field_order = ("codes", "bay", "stage", "on", "note")

    def __init__(self, *args: Any, place: Place, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.place = place
        bay = self.fields["bay"]
        assert isinstance(bay, forms.ModelChoiceField)
        bay.queryset = place.bays.all()

    def clean_codes(self) -> list[Slab]:
        typed = [text.strip() for text in _BETWEEN_CODES.split(self.cleaned_data["codes"])]
        return slabs_of([text for text in typed if text])

    def moved(self, by: Person, now: datetime) -> list[Slab] | None:
        """Those that moved, or None with what is wrong beside its field."""
        said = self.cleaned_data
        try:
            return moves.move_many(
                said["codes"],
                place=self.place,
                bay=said["bay"],
                by=by,
                on=said["on"],
                now=now,
                note=said["note"],
                stage=self.stage_said,
            )
        except ValidationError as problem:
            self.take(problem, {})
            return None


def slabs_of(typed: Sequence[str]) -> list[Slab]:
    """The slabs of the codes as people type them, each once, in one query.

    Raises:
        ValidationError: a sentence for each that is no code or no slab's.
    """
    if len(typed) > MOST_AT_ONCE:
        raise ValidationError(f"That is more than {MOST_AT_ONCE} slabs: move them in parts.")
    wanted, problems = {}, []
    for text in typed:
        try:
            wanted[codes.normalise(text)] = text
        except codes.CodeProblem as problem:
            problems.append(f"“{text}”: {problem}")
    found = {slab.code: slab for slab in Slab.objects.filter(code__in=wanted)}
    problems += [
        f"No slab has the code {text}." for code, text in wanted.items() if code not in found
    ]
    if problems:
        raise ValidationError(problems)
    return [found[code] for code in wanted]
