"""What a tracing page takes: the picture and its scale, then the line."""

from typing import Any

from django import forms

from inventory.forms.fields import AsksLengths, LengthField
from inventory.forms.photos import ACCEPT
from inventory.models import FaceSide, Photo, Slab
from inventory.outline_drawn import Drawn, DrawnProblem, read_drawn, read_places
from inventory.outline_pages import LEAST_CLICKS, Bark
from inventory.outline_setup import MARKS_OF, Asked, Way
from inventory.photos.sheet import BAR_MM, print_scale

MOST_RAISED_MM = 1_500.0
SHORTEST_MM, LONGEST_MM = 20.0, 20_000.0
BARE, BARKED = "bare", "bark"


class PhotoChoice(forms.ModelChoiceField[Photo]):
    def label_from_instance(self, obj: Any) -> str:
        return str(obj.get_role_display())


class LongField(LengthField):
    """A length within the limits of what can lie in a picture of a slab."""

    def __init__(self, *, least_mm: float = SHORTEST_MM, most_mm: float, **kwargs: Any) -> None:
        super().__init__(kind="top_length", **kwargs)
        self.least_mm, self.most_mm = least_mm, most_mm

    def to_python(self, value: Any) -> Any:
        length_mm = super().to_python(value)
        if length_mm is not None and not self.least_mm <= length_mm <= self.most_mm:
            raise forms.ValidationError("No length in a picture of a slab is like that.")
        return length_mm


class SetupForm(AsksLengths, forms.Form):
    """A slab's photograph and what it is measured by; read from an address or a form alike."""

    photo = PhotoChoice(Photo.objects.none(), required=False, empty_label=None, label="Picture")
    side = forms.ChoiceField(
        label="Which face it shows", choices=FaceSide.choices, widget=forms.RadioSelect
    )
    way = forms.ChoiceField(
        label="What gives the size", choices=Way.choices, widget=forms.RadioSelect
    )
    bar = LongField(
        most_mm=400.0,
        required=False,
        label="The bar measures",
        help_text="From end line to end line on your print, by tape.",
    )
    wide = LongField(
        most_mm=LONGEST_MM, required=False, label="Its side from first to second corner"
    )
    high = LongField(
        most_mm=LONGEST_MM, required=False, label="Its side from second to third corner"
    )
    apart = LongField(
        most_mm=LONGEST_MM,
        required=False,
        label="How far apart the two points are",
        help_text="As far apart as you can, along the slab.",
    )
    raised = LongField(
        least_mm=1.0,
        most_mm=MOST_RAISED_MM,
        required=False,
        label="Face above the sheets",
        help_text="Leave empty when they lie on the slab’s face.",
    )
    taped = LongField(
        least_mm=100.0,
        most_mm=LONGEST_MM,
        required=False,
        label="Length by tape",
        help_text="If you took one: end to end in the picture. It is compared.",
    )
    marks = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data: Any = None,
        *,
        slab: Slab,
        system: str,
        initial: dict[str, Any] | None = None,
    ) -> None:
        first = {"bar": BAR_MM, "side": FaceSide.UPPER.value, "way": Way.SHEETS.value}
        super().__init__(data, initial={**first, **(initial or {})})
        self.slab = slab
        photos = slab.photos.order_by("position", "pk")
        self.fields["photo"].queryset = photos  # type: ignore[attr-defined]
        self.use_system(system)

    def clean_marks(self) -> tuple[tuple[float, float], ...]:
        try:
            return read_places(self.cleaned_data["marks"], max(MARKS_OF.values()))
        except DrawnProblem as problem:
            raise forms.ValidationError(str(problem)) from problem

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        needs = {
            Way.SHEETS.value: {"bar": "Say what the bar on your print measures."},
            Way.RECTANGLE.value: {
                "wide": "Say how long this side is.",
                "high": "Say how long this side is.",
            },
            Way.POINTS.value: {"apart": "Say how far apart the two points are."},
        }
        for name, sentence in needs.get(said.get("way", ""), {}).items():
            if said.get(name) is None and name not in self.errors:
                self.add_error(name, sentence)
        if said.get("way") == Way.SHEETS and said.get("bar"):
            self._judge_bar(said["bar"])
        if said.get("photo") is None and "photo" not in self.errors:
            self.add_error("photo", "Choose a picture of the slab’s face, or add one.")
        return said

    def _judge_bar(self, bar_mm: float) -> None:
        try:
            print_scale(bar_mm)
        except ValueError as problem:
            self.add_error("bar", str(problem))

    def asked(self) -> Asked:
        """What was said, once it is valid."""
        said = self.cleaned_data
        way = Way(said["way"])
        return Asked(
            photo=said["photo"],
            side=said["side"],
            way=way,
            bar_mm=said["bar"] or BAR_MM,
            rectangle_mm=(said["wide"], said["high"]) if way == Way.RECTANGLE else None,
            apart_mm=said["apart"] if way == Way.POINTS else None,
            marks=said["marks"] if MARKS_OF[way] else (),
            raised_mm=said["raised"] or 0.0,
            taped_mm=said["taped"],
        )


class StartForm(SetupForm):
    """The same from the page where it begins: a picture can be added there."""

    file = forms.FileField(
        required=False,
        label="Or add a picture",
        help_text="JPEG, PNG, WebP or HEIC, up to 30 MB, as the camera took it.",
        widget=forms.FileInput(attrs={"accept": ACCEPT}),
    )


class ClicksForm(forms.Form):
    """Rough clicks round the slab, in the straightened picture's mm."""

    clicks = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean_clicks(self) -> tuple[tuple[float, float], ...]:
        try:
            clicks = read_places(self.cleaned_data["clicks"])
        except DrawnProblem as problem:
            raise forms.ValidationError(str(problem)) from problem
        return clicks

    def ask_for_enough(self) -> bool:
        """Whether there are enough to draft from; says so beside the picture where not."""
        if not self.is_valid():
            return False
        if len(self.cleaned_data["clicks"]) < LEAST_CLICKS:
            self.add_error(
                "clicks",
                "Click at least four points round the slab; 10 to 16 give the best draft.",
            )
        return self.is_valid()


class LineForm(AsksLengths, ClicksForm):
    """The line as it stands, and what lies inside it."""

    drawn = forms.CharField(widget=forms.HiddenInput)
    bark = forms.ChoiceField(
        label="Where does the line run?",
        choices=[
            (BARE, "Inside the bark: all within it is wood"),
            (BARKED, "Round the bark: bark is inside the line"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether bark lies inside the line: it is worth 2 to 3 %."},
    )
    bark_mm = LengthField(kind="spare_width", required=False, label="Thickness of the bark")
    raised = LongField(
        least_mm=1.0,
        most_mm=MOST_RAISED_MM,
        required=False,
        label="Face above the sheets",
        help_text="The slab’s thickness, and what it stands on.",
    )

    def __init__(self, *args: Any, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_system(system)

    def clean_drawn(self) -> Drawn:
        try:
            return read_drawn(self.cleaned_data["drawn"])
        except DrawnProblem as problem:
            raise forms.ValidationError(str(problem)) from problem

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("bark") == BARKED and not said.get("bark_mm") and "bark_mm" not in self.errors:
            self.add_error("bark_mm", "Say how thick the bark inside the line is.")
        return said

    @property
    def inside(self) -> Bark:
        """What was said of the bark so far, or kept before; none while nothing was."""
        said = self.cleaned_data if self.is_bound else self.initial
        thick_mm = said.get("bark_mm")
        if said.get("bark") != BARKED or not isinstance(thick_mm, int | float):
            return Bark()
        return Bark(thick_mm > 0, float(thick_mm))
