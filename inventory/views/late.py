"""A correction that comes too late: somebody has put the same row right meanwhile."""

from typing import Any, TypeVar

from django import forms
from django.db.models import Model
from django.http import HttpRequest

M = TypeVar("M", bound=Model)

SENTENCE = (
    "Somebody has corrected this meanwhile. "
    "What you typed is still here; saving it corrects theirs."
)


def as_it_stands(row: M) -> M:
    """The row, or what corrected it last."""
    newer = type(row)._default_manager.filter(supersedes=row).first()
    return as_it_stands(newer) if newer is not None else row


def is_late(request: HttpRequest, row: Model, now: Any) -> bool:
    """Whether something was typed over a row that no longer stands; a second press is not late."""
    if request.method != "POST" or now == row:
        return False
    sent = request.POST.get("entry_key")
    return not sent or sent != getattr(now, "entry_key", None)


def said_late(form: forms.BaseForm) -> None:
    """Say so above what was typed, beside whatever else is wrong with it."""
    form.is_valid()
    form.add_error(None, SENTENCE)
