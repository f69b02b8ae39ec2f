"""Weighing: whole slabs, and sample boards with their moisture sections. Masses in kg."""

from typing import Self, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.models.history import AppendOnly, AppendOnlyQuerySet

M = TypeVar("M", bound=models.Model)


class Basis(models.TextChoices):
    """From what the oven-dry mass, and so the moisture content, follows."""

    EARLIER = "earlier", "Its moisture at an earlier mass is known"
    OVEN_DRY = "oven_dry", "Its oven-dry mass is known"
    SECTIONS = "sections", "Moisture sections were cut and oven-dried"
    BOARD = "board", "The calculated oven-dry mass of the sample board"


class SampleBoard(models.Model):
    """A board cut to stand for one slab, for a log or for what lies in a bay."""

    name = models.CharField(max_length=60, unique=True)
    slab = models.ForeignKey(
        "inventory.Slab", models.PROTECT, null=True, blank=True, related_name="sample_boards"
    )
    log = models.ForeignKey(
        "inventory.Log", models.PROTECT, null=True, blank=True, related_name="sample_boards"
    )
    bay = models.ForeignKey(
        "inventory.Bay", models.PROTECT, null=True, blank=True, related_name="sample_boards"
    )
    note = models.CharField(max_length=300, blank=True)
    is_retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["is_retired", "name"]
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(slab__isnull=False, log__isnull=True, bay__isnull=True)
                    | Q(slab__isnull=True, log__isnull=False, bay__isnull=True)
                    | Q(slab__isnull=True, log__isnull=True, bay__isnull=False)
                ),
                name="board_stands_for_one_thing",
                violation_error_message="A sample board stands for a slab, a log or a bay.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class CorrectedHistory(AppendOnlyQuerySet[M]):
    """Rows that a later row may supersede."""

    def current(self) -> Self:
        """Rows no correction has superseded, latest first."""
        return self.filter(superseded_by__isnull=True).order_by("-on", "-at", "-pk")


class BoardSections(AppendOnly):
    """Moisture sections cut from a sample board, and what the board weighed when they were cut.

    `sections` is a list of [wet kg, dry kg]; dry is None while they are in the oven, and a row
    that supersedes this one then says it.
    """

    board = models.ForeignKey(SampleBoard, models.PROTECT, related_name="cuts")
    on = models.DateField()
    at = models.DateTimeField(help_text="When it was entered")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    board_mass_kg = models.FloatField()
    sections = models.JSONField(default=list)
    note = models.CharField(max_length=300, blank=True)
    entry_key = models.CharField(max_length=40, null=True, blank=True, unique=True)
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    objects = CorrectedHistory.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        verbose_name_plural = "board sections"
        constraints = [
            models.CheckConstraint(condition=Q(board_mass_kg__gt=0), name="board_has_mass")
        ]

    def __str__(self) -> str:
        return f"Sections of {self.board_id} on {self.on}"


class Weighing(AppendOnly):
    """One slab or one sample board on the scale. `mass_kg` is its mass on that day.

    Facts by `basis`: `oven_dry_kg`; or `earlier_kg` at `earlier_mc_pct`; or `sections`, a list of
    [wet kg, dry kg] cut from the slab that day. A sample board's follow from its BoardSections.
    """

    slab = models.ForeignKey(
        "inventory.Slab", models.PROTECT, null=True, blank=True, related_name="weighings"
    )
    board = models.ForeignKey(
        SampleBoard, models.PROTECT, null=True, blank=True, related_name="weighings"
    )
    on = models.DateField()
    at = models.DateTimeField(help_text="When it was entered")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    mass_kg = models.FloatField()
    basis = models.CharField(max_length=8, choices=Basis.choices)
    oven_dry_kg = models.FloatField(null=True, blank=True)
    earlier_kg = models.FloatField(null=True, blank=True)
    earlier_mc_pct = models.FloatField(null=True, blank=True)
    sections = models.JSONField(default=list, blank=True)
    note = models.CharField(max_length=300, blank=True)
    entry_key = models.CharField(
        max_length=40, null=True, blank=True, unique=True, help_text="So a resent form adds nothing"
    )
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    objects = CorrectedHistory.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = False
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(slab__isnull=False, board__isnull=True) & ~Q(basis="board")
                    | Q(slab__isnull=True, board__isnull=False, basis="board")
                ),
                name="weighing_of_slab_or_board",
            ),
            models.CheckConstraint(condition=Q(mass_kg__gt=0), name="weighing_has_mass"),
        ]

    def __str__(self) -> str:
        return f"{self.mass_kg} kg on {self.on}"
