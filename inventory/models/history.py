"""Rows that tell what happened: appended, never rewritten, never deleted."""

from collections.abc import Iterable
from typing import Any, ClassVar, NoReturn, TypeVar

from django.db import models

M = TypeVar("M", bound=models.Model)


class HistoryIsKept(TypeError):
    """Raised when code tries to rewrite or delete what happened."""


class AppendOnlyQuerySet(models.QuerySet[M]):
    """A queryset that adds rows and reads them; only declared derived figures may be re-derived."""

    def update(self, **kwargs: Any) -> int:
        raise HistoryIsKept(f"{self.model.__name__} rows are history: add a correction instead.")

    def delete(self) -> NoReturn:
        raise HistoryIsKept(f"{self.model.__name__} rows are history: they stay.")

    def bulk_update(
        self, objs: Any, fields: Iterable[str], batch_size: int | None = None
    ) -> NoReturn:
        raise HistoryIsKept(f"{self.model.__name__} rows are history: add a correction instead.")

    def rederive(self, **derived: Any) -> int:
        """Write again what the row's own facts imply (see `derived_fields` of the model)."""
        allowed: frozenset[str] = getattr(self.model, "derived_fields", frozenset())
        if not set(derived) <= allowed:
            raise HistoryIsKept(f"{set(derived) - allowed} are facts, not derived figures.")
        return super().update(**derived)


class AppendOnly(models.Model):
    """Base of every history row."""

    derived_fields: ClassVar[frozenset[str]] = frozenset()

    class Meta:
        abstract = True
        default_permissions = ("add", "view")

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise HistoryIsKept(f"{type(self).__name__} rows are history: add a correction.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise HistoryIsKept(f"{type(self).__name__} rows are history: they stay.")
