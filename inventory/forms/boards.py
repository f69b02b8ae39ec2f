"""Sample boards: what they stand for, sections cut from them, what they weigh."""

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django import forms

from inventory import boards, codes
from inventory.boards import BoardProblem, Section
from inventory.forms.masses import BALANCE, AsksMasses, MassField
from inventory.models import Bay, BoardSections, Log, Person, SampleBoard, Slab, Weighing

_ONE_THING = "A board stands for one thing: a slab, a log or a bay."


class BoardForm(forms.ModelForm[SampleBoard]):
    """`slab_code` as people type it; the board's own slab is set from it."""

    slab_code = forms.CharField(
        label="A slab, by its code",
        required=False,
        max_length=12,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    class Meta:
        model = SampleBoard
        fields = ("name", "slab_code", "log", "bay", "note", "is_retired")
        labels = {
            "log": "A log",
            "bay": "What lies in a bay",
            "is_retired": "No longer weighed",
        }
        help_texts = {"name": "What is written on it."}
        error_messages = {"name": {"unique": "There is a board of that name already."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        log, bay = self.fields["log"], self.fields["bay"]
        assert isinstance(log, forms.ModelChoiceField)
        assert isinstance(bay, forms.ModelChoiceField)
        log.queryset = Log.objects.select_related("species").order_by("number")
        bay.queryset = Bay.objects.select_related("place").order_by("place__position", "position")
        log.empty_label = bay.empty_label = "–"
        if self.instance.slab is not None:
            self.initial.setdefault("slab_code", self.instance.slab.display_code)
        if self.instance.pk is None:
            del self.fields["is_retired"]

    def clean_slab_code(self) -> Slab | None:
        typed = self.cleaned_data["slab_code"].strip()
        if not typed:
            return None
        try:
            code = codes.normalise(typed)
        except codes.CodeProblem as problem:
            raise forms.ValidationError(str(problem)) from problem
        slab = Slab.objects.filter(code=code).first()
        if slab is None:
            raise forms.ValidationError(f"No slab bears the code {codes.display(code)}.")
        return slab

    def clean(self) -> dict[str, Any]:
        cleaned = dict(super().clean() or self.cleaned_data)
        named = [cleaned.get(name) for name in ("slab_code", "log", "bay")]
        if "slab_code" not in self.errors and sum(thing is not None for thing in named) != 1:
            self.add_error("slab_code", _ONE_THING)
        self.instance.slab = cleaned.get("slab_code")
        return cleaned


class DayForm(AsksMasses, forms.Form):
    """What sections and weighings share."""

    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    note = forms.CharField(label="Note", max_length=300, required=False)
    entry_key = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any, *, board: SampleBoard, system: str, initial: Any) -> None:
        super().__init__(data, initial={"entry_key": uuid4().hex, **initial}, label_suffix="")
        self.board, self.system = board, system
        self.use_masses(system)
        self.order_fields([name for name in self.fields if name not in ("on", "note")])

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.keep_untouched()
        return self.cleaned_data

    def say(self, problem: BoardProblem) -> None:
        name = {"sections": "wet_1"}.get(problem.field, problem.field)
        self.add_error(name if name in self.fields else None, str(problem))


class SectionsForm(DayForm):
    board_mass = MassField(
        label="The board, after cutting",
        on=BALANCE,
        error_messages={"required": "Type what the board weighs."},
        help_text="A number alone is in grams.",
    )
    wet_1 = MassField(
        label="First section, wet",
        on=BALANCE,
        error_messages={"required": "Type what the section weighs."},
    )
    dry_1 = MassField(label="First section, oven-dry", required=False, on=BALANCE)
    wet_2 = MassField(label="Second section, wet", required=False, on=BALANCE)
    dry_2 = MassField(label="Second section, oven-dry", required=False, on=BALANCE)

    def __init__(
        self,
        data: Any,
        *,
        board: SampleBoard,
        system: str,
        today: date,
        corrects: BoardSections | None = None,
    ) -> None:
        self.corrects = corrects
        initial = _cut_before(corrects) if corrects else {"on": today}
        super().__init__(data, board=board, system=system, initial=initial)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("dry_2") is not None and cleaned.get("wet_2") is None:
            self.add_error("wet_2", "A section takes both masses, wet and oven-dry.")
        return cleaned

    def save(self, by: Person, now: datetime) -> BoardSections | None:
        """Record the sections; None when they cannot be, with the sentence on the page."""
        clean = self.cleaned_data
        try:
            return boards.record_sections(
                self.board,
                by=by,
                on=clean["on"],
                board_mass_kg=clean["board_mass"],
                sections=self._sections(),
                note=clean["note"],
                entry_key=clean["entry_key"],
                now=now,
                supersedes=self.corrects,
            )
        except BoardProblem as problem:
            self.say(problem)
            return None

    def _sections(self) -> list[Section]:
        pairs = [(self.cleaned_data[f"wet_{n}"], self.cleaned_data[f"dry_{n}"]) for n in (1, 2)]
        return [(wet, dry) for wet, dry in pairs if wet is not None]


class BoardWeighForm(DayForm):
    mass = MassField(
        label="What it weighs now",
        on=BALANCE,
        error_messages={"required": "Type what it weighs."},
        help_text="A number alone is in grams.",
    )

    def __init__(
        self,
        data: Any,
        *,
        board: SampleBoard,
        system: str,
        today: date,
        corrects: Weighing | None = None,
    ) -> None:
        self.corrects = corrects
        initial: dict[str, Any] = {"on": today}
        if corrects is not None:
            initial = {"on": corrects.on, "mass": corrects.mass_kg, "note": corrects.note}
        super().__init__(data, board=board, system=system, initial=initial)
        self.fields["mass"].widget.attrs |= {"inputmode": "decimal"}

    def save(self, by: Person, now: datetime) -> Weighing | None:
        clean = self.cleaned_data
        try:
            return boards.weigh_board(
                self.board,
                by=by,
                on=clean["on"],
                mass_kg=clean["mass"],
                note=clean["note"],
                entry_key=clean["entry_key"],
                now=now,
                supersedes=self.corrects,
            )
        except BoardProblem as problem:
            self.say(problem)
            return None


def _cut_before(row: BoardSections) -> dict[str, Any]:
    initial: dict[str, Any] = {"on": row.on, "board_mass": row.board_mass_kg, "note": row.note}
    for number, (wet, dry) in enumerate(row.sections[:2], start=1):
        initial |= {f"wet_{number}": wet, f"dry_{number}": dry}
    return initial
