"""Weighing a whole slab: its mass now, and what its oven-dry mass follows from."""

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django import forms

from inventory import checks, weighing
from inventory.checks import CheckProblem
from inventory.forms.masses import BALANCE, AsksMasses, MassField, MoistureField
from inventory.models import Basis, MoistureCheck, Person, Slab, Weighing
from inventory.weighing import WeighingEntry
from inventory.wood import moisture
from inventory.wood.masses import format_mass_fine
from inventory.wood.weighing import WeighingProblem

SECTIONS = 2
OF_SLAB = [choice for choice in Basis.choices if choice[0] != Basis.BOARD]
# The form's field for what a problem of the masses is about.
_FIELDS = {"sections": "wet_1", "": None}


class WeighForm(AsksMasses, forms.Form):
    mass = MassField(
        label="What it weighs now",
        error_messages={"required": "Type what it weighs."},
    )
    basis = forms.ChoiceField(
        label="How its dry mass is known", choices=OF_SLAB, widget=forms.RadioSelect
    )
    earlier_mass = MassField(label="What it weighed then", required=False)
    earlier_mc = MoistureField(label="Moisture it had then, %", required=False)
    oven_dry = MassField(label="Its oven-dry mass", required=False)
    wet_1 = MassField(label="First section, wet", required=False, on=BALANCE)
    dry_1 = MassField(label="First section, oven-dry", required=False, on=BALANCE)
    wet_2 = MassField(label="Second section, wet", required=False, on=BALANCE)
    dry_2 = MassField(label="Second section, oven-dry", required=False, on=BALANCE)
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    note = forms.CharField(label="Note", max_length=300, required=False)
    entry_key = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data: Any,
        *,
        slab: Slab,
        system: str,
        today: date,
        corrects: Weighing | None = None,
    ) -> None:
        before = weighing.last_weighing(slab, leaving_out=corrects)
        initial = _initial(today, corrects, before)
        super().__init__(data, initial=initial, label_suffix="")
        self.slab, self.system, self.today, self.corrects = slab, system, today, corrects
        self.before = before
        self.use_masses(system)
        mass = self.fields["mass"]
        assert isinstance(mass, MassField)
        mass.help_text = f"A number alone is in {mass.bare_unit}; 92 lb, 41.7 kg, 6 lb 4 oz do too."
        mass.widget.attrs |= {"inputmode": "decimal", "enterkeyhint": "next"}

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.keep_untouched()
        if on := self.cleaned_data.get("on"):
            try:
                checks.refuse_day(self.slab, on, self.today)
            except CheckProblem as problem:
                self.add_error("on", str(problem))
        if not self.errors:
            self._weigh_up()
        return self.cleaned_data

    def entry(self) -> WeighingEntry:
        clean = self.cleaned_data
        return WeighingEntry(
            mass_kg=clean["mass"],
            basis=clean["basis"],
            oven_dry_kg=clean["oven_dry"],
            earlier_kg=clean["earlier_mass"],
            earlier_mc_pct=clean["earlier_mc"],
            sections=self._sections(),
        )

    def save(self, by: Person, now: datetime) -> MoistureCheck | None:
        """Record the weighing; None when it cannot be, with the sentence on the page."""
        clean = self.cleaned_data
        try:
            return weighing.record_weighing(
                self.slab,
                self.entry(),
                by=by,
                on=clean["on"],
                note=clean["note"],
                entry_key=clean["entry_key"],
                now=now,
                supersedes=self.corrects,
            )
        except CheckProblem as problem:
            self.add_error("on" if problem.field == "on" else None, str(problem))
        except WeighingProblem as problem:
            self._say(problem)
        return None

    def _sections(self) -> list[tuple[float, float]]:
        pairs = [(self.cleaned_data[f"wet_{n}"], self.cleaned_data[f"dry_{n}"]) for n in (1, 2)]
        return [(wet, dry) for wet, dry in pairs if wet is not None and dry is not None]

    def _weigh_up(self) -> None:
        """Say what is missing or cannot be; ask about what does not look right."""
        if self.cleaned_data["basis"] == Basis.SECTIONS and self._says_half_a_section():
            return
        try:
            self._doubt(weighing.mc_pct(self.entry()))
        except WeighingProblem as problem:
            self._say(problem)
        except ValueError as problem:
            self.add_error(None, str(problem))

    def _says_half_a_section(self) -> bool:
        for number in (1, 2):
            wet, dry = self.cleaned_data[f"wet_{number}"], self.cleaned_data[f"dry_{number}"]
            if (wet is None) != (dry is None):
                name = f"wet_{number}" if wet is None else f"dry_{number}"
                self.add_error(name, "A section takes both masses, wet and oven-dry.")
        return bool(self.errors)

    def _doubt(self, found_pct: float) -> None:
        between = weighing.doubt_about_mass(self.slab, self.cleaned_data["mass"])
        if between is not None:
            least, most = (format_mass_fine(round(kg), self.system) for kg in between)
            self.ask("mass", f"A slab of this size weighs {least} to {most}. Is that right?")
            return
        last = self._last_pct()
        if last is not None and moisture.doubtful(found_pct, last_pct=last, others=()) is not None:
            self.ask(
                "mass",
                f"That makes {found_pct:.1f} %, and the last check said {last:.1f} %. "
                "Is the mass right?",
            )

    def _last_pct(self) -> float | None:
        correcting = self.corrects.moisture_check if self.corrects else None
        return checks.last_mean_pct(self.slab, leaving_out=correcting)

    def _say(self, problem: WeighingProblem) -> None:
        self.add_error(_FIELDS.get(problem.field, problem.field), str(problem))


def _initial(today: date, corrects: Weighing | None, before: Weighing | None) -> dict[str, Any]:
    """What is corrected, or the last weighing as the earlier mass of this one."""
    key = uuid4().hex
    if corrects is not None:
        pairs = enumerate(corrects.sections[:SECTIONS], start=1)
        sections = {
            f"{n}_{i}": kg for i, pair in pairs for n, kg in zip(("wet", "dry"), pair, strict=True)
        }
        return {
            "mass": corrects.mass_kg,
            "basis": corrects.basis,
            "earlier_mass": corrects.earlier_kg,
            "earlier_mc": corrects.earlier_mc_pct,
            "oven_dry": corrects.oven_dry_kg,
            "on": corrects.on,
            "note": corrects.note,
            "entry_key": key,
            **sections,
        }
    initial: dict[str, Any] = {"basis": Basis.EARLIER, "on": today, "entry_key": key}
    if before is not None:
        initial |= {"earlier_mass": before.mass_kg, "earlier_mc": weighing.mc_pct(before)}
    return initial
