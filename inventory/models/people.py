"""The people of the yard."""

from django.contrib.auth.models import AbstractUser
from django.db import models


class LengthSystem(models.TextChoices):
    IMPERIAL = "imperial", "Feet and inches"
    METRIC = "metric", "Metric"


class Person(AbstractUser):
    """Someone who signs in. What they may do comes from their group (see catalogue/roles.py)."""

    length_system = models.CharField(
        "sizes shown in", max_length=8, choices=LengthSystem.choices, blank=True
    )

    class Meta(AbstractUser.Meta):
        verbose_name = "person"
        verbose_name_plural = "people"

    @property
    def called(self) -> str:
        """The name used on screen and in the ledger."""
        return self.get_full_name() or self.username
