"""Widths along a slab, typed in one line."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError

from inventory.forms.widths import WidthsField, ordinal


@pytest.mark.parametrize(
    ("text", "stations"),
    [
        ("680", [[0.5, 680.0]]),
        ("680, 720, 700", [[0.0, 680.0], [0.5, 720.0], [1.0, 700.0]]),
        ("680,720,700", [[0.0, 680.0], [0.5, 720.0], [1.0, 700.0]]),
        ("680; 720,5; 700", [[0.0, 680.0], [0.5, 720.5], [1.0, 700.0]]),
        ("720 at 40 %, 680 at 10", [[0.1, 680.0], [0.4, 720.0]]),
        ("26 1/2 in @ 0, 70 cm @ 100%", [[0.0, 673.1], [1.0, 700.0]]),
    ],
)
def test_widths_are_read_in_the_ways_they_are_written(text: str, stations: Any) -> None:
    field = WidthsField()
    field.system = "metric"
    assert field.clean(text) == [[at, pytest.approx(mm)] for at, mm in stations]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("680 at 10 %, 700", "place of every width"),
        ("680 at 10 %, 700 at 10 %", "a different one"),
        ("680 at 120 %, 700 at 10 %", "from 0 % to 100 %"),
        (", ".join(["700"] * 31), "30 widths at most"),
        ("20 22 1/2 19", "a comma and a space between two widths: 20, 22 1/2, 19"),
    ],
)
def test_places_that_do_not_fit_together_are_told(text: str, words: str) -> None:
    field = WidthsField()
    field.system = "metric"
    with pytest.raises(ValidationError, match=words):
        field.clean(text)


@pytest.mark.parametrize(
    ("number", "words"),
    [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (12, "12th"), (21, "21st")],
)
def test_a_width_is_named_by_its_place(number: int, words: str) -> None:
    assert ordinal(number) == words
