"""Meters: what they are, their tests against a block, the shop's own tables."""

from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory import meter_rows, meter_tables, meter_tests
from inventory.forms.readings import NumberField
from inventory.forms.temperature import AirTemperatureField, degrees_sign
from inventory.forms.text_files import text_of
from inventory.meter_rows import Row
from inventory.meter_tables import TableRow
from inventory.models import Meter, MeterTable, MeterTest, Person, Species
from inventory.wood.moisture import CALIBRATION_C, CALIBRATION_WOOD

COLDEST_C, WARMEST_C = 0.0, 40.0


class MeterForm(forms.ModelForm[Meter]):
    calibrated_at_c = AirTemperatureField(required=False)

    class Meta:
        model = Meter
        fields = (
            "name",
            "method",
            "calibrated_on",
            "calibrated_at_c",
            "corrects_temperature",
            "corrects_species",
            "note",
            "is_retired",
        )
        labels = {
            "method": "How it measures",
            "calibrated_on": "The wood it was calibrated on",
            "corrects_temperature": "It corrects for the wood's temperature itself",
            "corrects_species": "It is set to the species, by hand or by itself",
            "is_retired": "No longer used",
        }
        help_texts = {
            "name": "What it is called in the shop.",
            "calibrated_on": (
                f"Its papers say; most are set to {CALIBRATION_WOOD}, and our table is for those. "
                "Another takes its own table."
            ),
            "corrects_temperature": "Then nothing is corrected twice.",
            "is_retired": "Its checks stay; it is no longer offered.",
        }
        widgets = {"method": forms.RadioSelect, "note": forms.Textarea({"rows": 3})}
        error_messages = {"name": {"unique": "There is a meter of that name already."}}

    def __init__(self, *args: Any, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        at = self.fields["calibrated_at_c"]
        assert isinstance(at, AirTemperatureField)
        at.system = system
        at.label = f"At a wood temperature of, {degrees_sign(system)}"

    def clean_calibrated_at_c(self) -> float:
        at_c: float | None = self.cleaned_data["calibrated_at_c"]
        if at_c is None:
            return CALIBRATION_C
        if not COLDEST_C <= at_c <= WARMEST_C:
            raise forms.ValidationError("No meter is calibrated that cold or warm: look again.")
        return at_c


class MeterTestForm(forms.Form):
    block_pct = NumberField(
        label="The block should show, %",
        error_messages={"required": "Say what is written on the block."},
    )
    read_pct = NumberField(
        label="The meter shows, %", error_messages={"required": "Type what the meter shows."}
    )
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    next_due_on = forms.DateField(
        label="Test it again by", widget=forms.DateInput(attrs={"type": "date"})
    )
    note = forms.CharField(label="Note", max_length=300, required=False)

    def __init__(self, data: Any, *, meter: Meter, today: date) -> None:
        last = meter.tests.first()
        initial = {
            "on": today,
            "next_due_on": today + meter_tests.TEST_EVERY,
            "block_pct": f"{last.block_pct:g}" if last else "",
        }
        super().__init__(data, initial=initial, label_suffix="")
        self.meter = meter
        for name in ("block_pct", "read_pct"):
            self.fields[name].widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def save(self, by: Person, now: datetime) -> MeterTest | None:
        """Record the test; None when it cannot be, with the sentence beside its field."""
        try:
            return meter_tests.record_test(self.meter, by=by, now=now, **self.cleaned_data)
        except meter_tests.BlockProblem as problem:
            self.add_error(problem.field, str(problem))
            return None


class MeterTableForm(forms.Form):
    """A table chosen as a file or pasted; read row by row, kept only when every row is good."""

    file = forms.FileField(
        label="The table as a CSV file",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,text/csv,text/plain"}),
    )
    text = forms.CharField(
        label="Or paste it here",
        required=False,
        strip=False,
        help_text=(
            "Three columns: species (common or botanical; empty for any), what the meter shows, "
            "and the moisture that is. The first line may name them."
        ),
        widget=forms.Textarea(attrs={"rows": 10, "class": "paste", "spellcheck": "false"}),
    )
    note = forms.CharField(label="Where it is from", max_length=300, required=False)

    def __init__(self, data: Any = None, files: Any = None, *, meter: Meter) -> None:
        self.meter = meter
        self.file_problem = ""
        self.rows: list[Row] = []
        super().__init__(self._with_file(data, files), label_suffix="")

    @property
    def bad_rows(self) -> list[Row]:
        return [row for row in self.rows if row.problem]

    @property
    def good_rows(self) -> list[Row]:
        return [row for row in self.rows if not row.problem]

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        if self.file_problem:
            self.add_error("file", self.file_problem)
        else:
            self._read(said.get("text") or "")
        if not meter_tables.takes_a_table(self.meter):
            self.add_error(
                None, "This meter sees to the species itself: a table would do it twice."
            )
        return said

    def save(self, by: Person, now: datetime) -> MeterTable:
        rows = [TableRow(r.species_pk, r.reading_pct, r.corrected_pct) for r in self.rows]
        note = self.cleaned_data["note"]
        return meter_tables.take_table(self.meter, rows, by=by, note=note, now=now)

    def _read(self, text: str) -> None:
        try:
            self.rows = meter_rows.read_rows(text, _names())
        except meter_rows.TableProblem as problem:
            self.add_error("text", str(problem))
            return
        if bad := len(self.bad_rows):
            rows = "1 row is" if bad == 1 else f"{bad} rows are"
            self.add_error("text", f"{rows} not right yet: see beside each, and mend it here.")

    def _with_file(self, data: Any, files: Any) -> Any:
        """The file's text in the box, where it can be mended."""
        file = files.get("file") if files else None
        if data is None or file is None:
            return data
        full = data.copy()
        try:
            full["text"] = text_of(file)
        except ValidationError as problem:
            self.file_problem = str(problem.message)
        return full


def _names() -> meter_rows.Names:
    columns = ("pk", "common_name", "botanical_name", "other_names", "is_published")
    return meter_rows.names_of(list(Species.objects.values_list(*columns)))
