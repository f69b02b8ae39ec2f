"""Uploading several pictures at once, each judged by itself."""

from collections.abc import Sequence
from typing import Any, TypeAlias

from django import forms
from django.core.files.uploadedfile import UploadedFile

from inventory.models import PhotoRole
from inventory.photos.intake import EXTENSIONS

ACCEPT = ",".join(("image/*", *EXTENSIONS))
MOST_AT_ONCE = 40
Upload: TypeAlias = "UploadedFile[bytes]"


class SeveralFilesInput(forms.FileInput):
    allow_multiple_selected = True


class SeveralFilesField(forms.FileField):
    """Cleaned to a list of uploaded files; what is in them is judged at intake, one by one."""

    widget = SeveralFilesInput(attrs={"multiple": True, "accept": ACCEPT})

    def clean(self, data: Any, initial: Any = None) -> list[Upload]:
        files: Sequence[Upload] = data if isinstance(data, list | tuple) else [data]
        given = [file for file in files if file]
        if not given:
            raise forms.ValidationError("Choose at least one picture.", code="required")
        if len(given) > MOST_AT_ONCE:
            raise forms.ValidationError(f"Add {MOST_AT_ONCE} pictures at a time at most.")
        return given


class UploadForm(forms.Form):
    role = forms.ChoiceField(
        label="What they show", choices=PhotoRole.choices, initial=PhotoRole.FACE_DRY
    )
    files = SeveralFilesField(label="Pictures")  # type: ignore[assignment]


class RoleForm(forms.Form):
    role = forms.ChoiceField(choices=PhotoRole.choices)
