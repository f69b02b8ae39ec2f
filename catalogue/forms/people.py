"""Forms about people: one's own page, and the owner's keeping of who may do what."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from catalogue.roles import ROLES
from inventory.models import LengthSystem, Person

ROLE_WORDS = {
    "Owner": "Owner: everything",
    "Worker": "Worker: slabs, moisture, moves, pictures; no money",
    "Buyer": "Buyer: parcels, costs, prices and worth",
}


class SignInForm(AuthenticationForm):
    """Django's own, in our words."""

    error_messages = {
        "invalid_login": "That name and password do not belong together. Capital letters count.",
        "inactive": "This person no longer signs in here. Ask the owner.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name to sign in with"


class OwnPageForm(forms.ModelForm[Person]):
    """What a person may change about themselves."""

    class Meta:
        model = Person
        fields = ("first_name", "last_name", "length_system")
        widgets = {"length_system": forms.RadioSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "As the shop does"), *LengthSystem.choices]
        self.fields["length_system"] = forms.ChoiceField(
            label="Sizes shown in", choices=choices, required=False, widget=forms.RadioSelect
        )


class PersonForm(forms.ModelForm[Person]):
    """A person of the yard as the owner keeps them; a password is asked for a new one."""

    role = forms.ChoiceField(
        choices=[(role, ROLE_WORDS[role]) for role in ROLES], widget=forms.RadioSelect
    )
    password = forms.CharField(
        label="Password",
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    class Meta:
        model = Person
        fields = ("username", "first_name", "last_name", "is_active")
        labels = {"username": "Name to sign in with", "is_active": "May sign in"}
        help_texts = {"username": "", "is_active": ""}

    field_order = ("username", "first_name", "last_name", "role", "password", "is_active")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        is_new = self.instance.pk is None
        self.fields["password"].required = is_new
        if is_new:
            del self.fields["is_active"]
        else:
            self.fields["password"].help_text = "Leave empty to keep the one there is."
            self.initial["role"] = self.instance.groups.values_list("name", flat=True).first()

    def clean_password(self) -> str:
        password = str(self.cleaned_data.get("password") or "")
        if password:
            try:
                validate_password(password, self.instance)
            except ValidationError as problem:
                raise forms.ValidationError(problem.messages) from problem
        return password

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self._leaves_no_owner(cleaned):
            self.add_error("role", "Somebody must stay owner: make another owner first.")
        return cleaned

    def _leaves_no_owner(self, cleaned: dict[str, Any]) -> bool:
        if self.instance.pk is None:
            return False
        stays = cleaned.get("role") == "Owner" and cleaned.get("is_active", True)
        owners = Person.objects.filter(groups__name="Owner", is_active=True)
        return not stays and not owners.exclude(pk=self.instance.pk).exists()

    def save(self, commit: bool = True) -> Person:
        person = super().save(commit=False)
        if self.cleaned_data["password"]:
            person.set_password(self.cleaned_data["password"])
        # The record's own tables (the admin) are the owner's to read.
        person.is_staff = self.cleaned_data["role"] == "Owner"
        person.save()
        person.groups.set([Group.objects.get(name=self.cleaned_data["role"])])
        return person
