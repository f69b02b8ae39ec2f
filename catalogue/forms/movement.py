"""How a commission's top will move: the moisture it is made at, the home's air, the wood."""

from typing import Any

from django import forms
from django.http import QueryDict

from inventory.forms.movement import (
    WETTEST_TARGET_PCT,
    HomeAirForm,
    MoistureField,
    said_pct,
)
from inventory.models import Species


class CommissionMovementForm(HomeAirForm):
    """Asked by GET; a species only where no wood is promised or wished."""

    made = MoistureField(most=WETTEST_TARGET_PCT, label="Moisture it is made at, %")
    species = forms.ModelChoiceField(
        Species.objects.none(),
        required=False,
        label="Of which wood",
        empty_label="Choose a species",
    )
    field_order = ("species", "made")

    def __init__(
        self, said: QueryDict, *, made_pct: float, asks_species: bool, system: str
    ) -> None:
        self.made_pct = made_pct
        super().__init__(said, system=system)
        species = self.fields["species"]
        assert isinstance(species, forms.ModelChoiceField)
        species.queryset = Species.objects.by_name()
        if not asks_species:
            del self.fields["species"]

    def usual(self) -> dict[str, Any]:
        return {**super().usual(), "made": said_pct(self.made_pct)}
