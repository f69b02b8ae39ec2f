"""Asking instead of refusing: a doubtful value is questioned beside its field, never lost.

A form that mixes in `Asking` may call `self.ask(field, question)` while cleaning. The field then
shows the question with a tick box "keep it"; when the box comes back ticked with the same typed
text, the value passes. Changing the text asks anew.
"""

from typing import Any

from django import forms

CONFIRM = "keep"


class Asking(forms.BaseForm):
    """Mixin for forms whose answers may be doubted."""

    def typed(self, name: str) -> str:
        return str(self.data.get(self.add_prefix(name), "")).strip()

    def keep_token(self, name: str) -> str:
        """Names the field and what was typed, so that a tick covers just that text."""
        return f"{self.add_prefix(name)}={self.typed(name)}"

    def is_kept(self, name: str) -> bool:
        kept = self.data.getlist(CONFIRM) if hasattr(self.data, "getlist") else []
        return self.keep_token(name) in kept

    def ask(self, name: str, question: str, suggestion: str = "") -> None:
        """Question the value of `name` unless the person has said to keep it."""
        if self.is_kept(name):
            return
        self.add_error(name, forms.ValidationError(question, code="asked"))
        bound: Any = self.fields[name]
        bound.question = question
        bound.keep_token = self.keep_token(name)
        bound.keep_text = self.typed(name)
        bound.suggestion = suggestion
