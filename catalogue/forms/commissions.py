"""Clients, and commissions as a client and an owner talk them over."""

from typing import Any

from django import forms
from django.db.models import Q

from catalogue import promises
from catalogue.forms import tops
from catalogue.models import Client, Commission, HowMade, KeptEdges, Stage, TopShape, Use
from inventory import readiness
from inventory.forms.fields import AsksLengths, LengthField, SeveralField
from inventory.forms.money import MoneyField
from inventory.forms.readings import NumberField, TemperatureField
from inventory.models import Species
from inventory.wood import humidity, measure

POSSIBLE_HOME_C = (-20.0, 45.0)
USUAL_HOME_C = (10.0, 32.0)
USUAL_HOME_RH_PCT = (15.0, 80.0)
POSSIBLE_TARGET_PCT = (3.0, 25.0)
DATE = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
DECIMAL = {"inputmode": "decimal", "autocomplete": "off", "class": "number"}


class ClientForm(forms.ModelForm[Client]):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})

    class Meta:
        model = Client
        fields = ("name", "email", "phone", "note")
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
            "note": forms.Textarea(attrs={"rows": 3}),
        }
        error_messages = {"name": {"unique": "There is a client of that name already."}}


class CommissionForm(AsksLengths, forms.ModelForm[Commission]):
    """A commission with its client, chosen or new; sizes and temperature in the viewer's units."""

    client = forms.ModelChoiceField(
        Client.objects.all(),
        required=False,
        empty_label="Choose a client",
        help_text="Somebody you know already.",
    )
    new_client = forms.CharField(
        required=False,
        max_length=80,
        label="Or a new client",
        help_text="Their name; the rest can be added later.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    top_shape = forms.ChoiceField(
        choices=TopShape.choices, label="Shape of the top", widget=forms.RadioSelect
    )
    top_length_mm = LengthField(
        kind="top_length", label="Length or diameter", help_text="Along the grain."
    )
    top_width_mm = LengthField(
        kind="top_width", label="Width", required=False, help_text="A round needs none."
    )
    finished_thickness_mm = LengthField(
        kind="top_thickness", label="Finished thickness", help_text="Flattened and sanded."
    )
    corner_mm = LengthField(
        kind="top_corner",
        required=False,
        label="Radius of its corners",
        help_text="For a rectangle with rounded corners.",
    )
    end_width_mm = LengthField(
        kind="top_width",
        required=False,
        label="Width at its ends",
        help_text="For a boat, whose sides are one long curve.",
    )
    kept_edges = forms.ChoiceField(
        choices=KeptEdges.choices,
        required=False,
        label="Live edges kept",
        help_text="For a live-edge top; its width is the least it may measure across.",
        widget=forms.RadioSelect,
    )
    margin_mm = LengthField(
        kind="spare_width",
        required=False,
        label="Spare wood all round",
        help_text="Kept between the top and the edge of the wood.",
    )
    wane_mm = LengthField(
        kind="spare_width",
        required=False,
        label="Wane taken off live edges",
        help_text="Soft edge, sapwood or the slope of the bark side.",
    )
    how_made = forms.ChoiceField(
        choices=HowMade.choices, label="How it is made", widget=forms.RadioSelect
    )
    use = forms.ChoiceField(choices=Use.choices, label="Where it will be used")
    species = SeveralField(
        Species.objects.none(),
        required=False,
        label="Species wished",
        help_text="Tick none to look through every species.",
        widget=forms.CheckboxSelectMultiple,
    )
    budget = MoneyField(required=False, label="Budget for wood")
    start_on = forms.DateField(required=False, label="Work starts on", widget=DATE)
    home_temp = TemperatureField(
        required=False, widget=forms.TextInput(attrs={"autocomplete": "off", "class": "number"})
    )
    home_rh_pct = NumberField(
        required=False, label="Humidity at home, % RH", widget=forms.TextInput(attrs=DECIMAL)
    )
    target_low_pct = NumberField(
        required=False, label="Moisture from, %", widget=forms.TextInput(attrs=DECIMAL)
    )
    target_high_pct = NumberField(
        required=False, label="Moisture to, %", widget=forms.TextInput(attrs=DECIMAL)
    )

    class Meta:
        model = Commission
        fields = (
            "title",
            "client",
            "stage",
            "top_shape",
            "top_length_mm",
            "top_width_mm",
            "corner_mm",
            "end_width_mm",
            "kept_edges",
            "margin_mm",
            "wane_mm",
            "finished_thickness_mm",
            "how_made",
            "use",
            "species",
            "budget",
            "start_on",
            "home_rh_pct",
            "target_low_pct",
            "target_high_pct",
            "note",
        )
        labels = {"title": "What it is", "stage": "Where it stands"}
        widgets = {
            "title": forms.TextInput(attrs={"autocomplete": "off"}),
            "note": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})
        self.system = system
        self.use_system(system)
        self._offer_species()
        self._offer_home()
        for name in ("margin_mm", "wane_mm"):
            if not self.initial.get(name):
                self.initial[name] = ""
        if self.instance.pk is None:
            del self.fields["stage"]

    def _offer_species(self) -> None:
        """Those of which there is wood, and those wished already."""
        offered = Q(slabs__isnull=False)
        if self.instance.pk is not None:
            offered |= Q(pk__in=self.instance.species.values("pk"))
        field: Any = self.fields["species"]
        field.queryset = Species.objects.filter(offered).distinct().by_name()

    def _offer_home(self) -> None:
        field = self.fields["home_temp"]
        assert isinstance(field, TemperatureField)
        field.system = self.system
        unit = "°F" if self.system == measure.IMPERIAL else "°C"
        field.label = f"Temperature at home, {unit}"
        if self.instance.home_temp_c is not None:
            shown = measure.format_temperature(self.instance.home_temp_c, self.system)
            self.initial["home_temp"] = shown.replace(measure.NBSP, " ")
        for name in ("home_rh_pct", "target_low_pct", "target_high_pct"):
            if (stored := getattr(self.instance, name)) is not None:
                self.initial[name] = f"{stored:g}"

    def clean(self) -> dict[str, Any]:
        cleaned = dict(super().clean() or self.cleaned_data)
        self.keep_untouched_lengths()
        self.ask_about_lengths()
        cleaned |= self.cleaned_data
        self._clean_width(cleaned)
        cleaned = self._clean_shape(cleaned)
        self._clean_client(cleaned)
        self._clean_home(cleaned)
        self._clean_target(cleaned)
        self._clean_stage(cleaned)
        self._ask_about_twin(cleaned)
        return cleaned

    def _clean_width(self, cleaned: dict[str, Any]) -> None:
        if cleaned.get("top_shape") == TopShape.ROUND:
            cleaned["top_width_mm"] = cleaned.get("top_length_mm")
            self.errors.pop("top_width_mm", None)
        elif cleaned.get("top_width_mm") is None and "top_width_mm" not in self.errors:
            self.add_error("top_width_mm", "How wide is the top?")

    def _clean_shape(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        """Only what the shape has is kept; a doubt about what it has not is no doubt."""
        asked = tops.ASKED_BY_SHAPE.get(cleaned.get("top_shape", ""), frozenset())
        for name in tops.ONLY_SOME_HAVE:
            if name not in asked:
                self.errors.pop(name, None)
        cleaned = tops.fitted(cleaned)
        for name, sentence in tops.wrong(cleaned).items():
            if name not in self.errors:
                self.add_error(name, sentence)
        return cleaned

    def _clean_client(self, cleaned: dict[str, Any]) -> None:
        name = cleaned.get("new_client", "")
        if name and cleaned.get("client"):
            self.add_error("new_client", "Choose a client or type a new one, not both.")
        elif name and Client.objects.filter(name__iexact=name).exists():
            self.add_error("new_client", f"{name} is a client already: choose them in the list.")
        elif not name and not cleaned.get("client") and "client" not in self.errors:
            self.add_error("client", "Whom is it for?")

    def _clean_home(self, cleaned: dict[str, Any]) -> None:
        temp_c, rh_pct = cleaned.get("home_temp"), cleaned.get("home_rh_pct")
        if {"home_temp", "home_rh_pct"} & set(self.errors):
            return
        if (temp_c is None) != (rh_pct is None):
            missing = "home_temp" if temp_c is None else "home_rh_pct"
            self.add_error(missing, "The air at home takes both temperature and humidity.")
        elif temp_c is not None and rh_pct is not None:
            self._refuse_air(temp_c, rh_pct, cleaned.get("use") or Use.INTERIOR)
            self._ask_about_air(temp_c, rh_pct)

    def _refuse_air(self, temp_c: float, rh_pct: float, use: str) -> None:
        low, high = POSSIBLE_HOME_C
        if not low <= temp_c <= high:
            self.add_error("home_temp", "Nobody lives in such air: look again.")
            return
        try:
            readiness.target_for_home(temp_c, rh_pct, use)
        except humidity.OutOfRange as problem:
            self.add_error("home_rh_pct", str(problem))

    def _ask_about_air(self, temp_c: float, rh_pct: float) -> None:
        said = measure.format_temperature(temp_c, self.system)
        if not USUAL_HOME_C[0] <= temp_c <= USUAL_HOME_C[1]:
            self.ask("home_temp", f"{said} at home the year round? Is that right?")
        if not USUAL_HOME_RH_PCT[0] <= rh_pct <= USUAL_HOME_RH_PCT[1]:
            self.ask("home_rh_pct", f"{rh_pct:g} % at home the year round? Is that right?")

    def _clean_target(self, cleaned: dict[str, Any]) -> None:
        names = ("target_low_pct", "target_high_pct")
        low, high = (cleaned.get(name) for name in names)
        if set(names) & set(self.errors):
            return
        if (low is None) != (high is None):
            missing = names[0] if low is None else names[1]
            self.add_error(missing, "A range takes both ends.")
        elif low is not None and high is not None:
            self._refuse_target(low, high)

    def _refuse_target(self, low: float, high: float) -> None:
        least, most = POSSIBLE_TARGET_PCT
        if low >= high:
            self.add_error("target_high_pct", "The upper end must be above the lower.")
        elif low < least or high > most:
            self.add_error("target_high_pct", f"Wood is worked between {least:g} and {most:g} %.")

    def _clean_stage(self, cleaned: dict[str, Any]) -> None:
        closes = cleaned.get("stage") in (Stage.DONE, Stage.DROPPED)
        if closes and self.instance.pk is not None and promises.promised_to(self.instance):
            self.add_error(
                "stage", "Wood is still promised to it: mark that used or release it first."
            )

    def _ask_about_twin(self, cleaned: dict[str, Any]) -> None:
        """A form sent twice would make two; so might two people at once."""
        title, client = cleaned.get("title"), cleaned.get("client")
        if self.instance.pk is None and title and client:
            twins = Commission.objects.open().filter(client=client, title__iexact=title)
            if twins.exists():
                self.ask("title", f"{client} has an open commission of that name: make another?")

    def save(self, commit: bool = True) -> Commission:
        if self.cleaned_data.get("new_client"):
            self.instance.client, _ = Client.objects.get_or_create(
                name=self.cleaned_data["new_client"]
            )
        if not self._is_home_untouched():
            self.instance.home_temp_c = self.cleaned_data.get("home_temp")
        return super().save(commit)

    def _is_home_untouched(self) -> bool:
        """A temperature sent back as it was shown stays exact."""
        shown = self.initial.get("home_temp")
        return shown is not None and self.typed("home_temp") == shown


class LastDayForm(forms.Form):
    """Until when a slab is kept."""

    until = forms.DateField(
        label="Last day",
        widget=DATE,
        error_messages={
            "required": "Until which day is it kept?",
            "invalid": "That is not a day: write it like 2026-05-03.",
        },
    )
