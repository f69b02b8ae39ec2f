"""What the frame's fields say: plain sentences, on whichever form they stand."""

from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.models import Species

CHOICES = [("a", "A"), ("b", "B")]


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        (forms.CharField(), "", "This is still empty: please fill it in."),
        (forms.CharField(max_length=3), "abcd", "That is too long: 3 letters and signs at most."),
        (forms.CharField(), "a\x00", "There is a sign in it that cannot be kept."),
        (forms.IntegerField(), "9.5", "Type a whole number."),
        (forms.IntegerField(min_value=1), "0", "It must be 1 or more."),
        (forms.IntegerField(max_value=200), "201", "It can be 200 at most."),
        (forms.DecimalField(), "nine", "Type a number, such as 8.5."),
        (forms.DateField(), "28.11.26", "That is no day: type it like 2026-03-28, the year first."),
        (forms.ChoiceField(choices=CHOICES), "c", "That is not one to choose from"),
        (forms.ChoiceField(choices=CHOICES), "", "Choose one of these."),
        (forms.MultipleChoiceField(choices=CHOICES), ["c"], "That is not one to choose from"),
        (forms.FileField(), SimpleUploadedFile("a.csv", b""), "There is nothing in that file."),
        (forms.FileField(), None, "Choose a file."),
    ],
)
def test_a_field_says_it_in_a_sentence(field: forms.Field, typed: Any, said: str) -> None:
    with pytest.raises(forms.ValidationError) as refused:
        field.clean(typed)
    assert refused.value.messages[0].startswith(said)


@pytest.mark.django_db
def test_a_row_that_has_gone_is_said_to_have_gone() -> None:
    field = forms.ModelChoiceField(Species.objects.all())
    with pytest.raises(forms.ValidationError, match="not there to choose any more"):
        field.clean("999999")
