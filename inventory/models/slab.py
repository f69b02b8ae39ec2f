"""The slab: one piece of wood that exists once."""

from datetime import date
from typing import ClassVar, Self

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory import codes
from inventory.wood.outline import WidthAt


class Sawn(models.TextChoices):
    FLAT = "flat", "Flat-sawn"
    RIFT = "rift", "Rift-sawn"
    QUARTER = "quarter", "Quarter-sawn"
    UNKNOWN = "", "Not known"


class Condition(models.TextChoices):
    """How dry: computed by readiness.py, never typed."""

    GREEN = "green", "Green"
    DRYING = "drying", "Drying"
    RESTING = "resting", "Resting"
    READY = "ready", "Ready"
    TOO_DRY = "too_dry", "Too dry"
    UNKNOWN = "unknown", "Not known"


class Standing(models.TextChoices):
    """Whose it is: changed only through the ledger."""

    FREE = "free", "Free"
    HELD = "held", "Held"
    ALLOTTED = "allotted", "Allotted"
    GONE = "gone", "Gone"


class GoneHow(models.TextChoices):
    USED = "used", "Used"
    SOLD = "sold", "Sold"
    WRITTEN_OFF = "written_off", "Written off"


class Figure(models.TextChoices):
    BURL = "burl", "Burl"
    CURL = "curl", "Curl"
    QUILT = "quilt", "Quilt"
    BIRDSEYE = "birdseye", "Bird's eye"
    SPALT = "spalt", "Spalt"
    CROTCH = "crotch", "Crotch"
    FLECK = "fleck", "Ray fleck"


class Fault(models.TextChoices):
    CRACK = "crack", "Crack"
    SHAKE = "shake", "Shake"
    KNOT = "knot", "Knots"
    ROT = "rot", "Soft or rotten"
    HOLE = "hole", "Hole or void"
    INSECT = "insect", "Insect holes"
    METAL = "metal", "Metal in the wood"
    CUP = "cup", "Cup"
    BOW = "bow", "Bow"
    TWIST = "twist", "Twist"
    STAIN = "stain", "Stain"


class SlabQuerySet(models.QuerySet["Slab"]):
    def in_stock(self) -> Self:
        """Everything not gone: free, held or allotted."""
        return self.exclude(standing=Standing.GONE)

    def free(self) -> Self:
        return self.filter(standing=Standing.FREE)

    def due_for_check(self, *, on: date) -> Self:
        """In stock and unchecked, or due on or before `on`; by place, bay, code (no bay last)."""
        due = Q(check_due_on__isnull=True) | Q(check_due_on__lte=on)
        return self.in_stock().filter(due).in_walking_order()

    def in_walking_order(self) -> Self:
        """As a worker walks: place, then bay (without a bay last), then sawn order and code."""
        return self.order_by(
            models.F("place__position").asc(nulls_last=True),
            "place__name",
            models.F("bay__position").asc(nulls_last=True),
            "bay__name",
            "log__number",
            "number_in_log",
            "code",
        )

    def for_cards(self) -> Self:
        """With what a card or list row shows, so that no row asks the database again."""
        return self.select_related("species", "place", "bay", "log", "cover")


class Slab(models.Model):
    """Sizes in mm, mm², mm³; moisture in %; money in shop currency.

    Fields under "derived" are written by inventory/derive.py alone, in the transaction of the fact
    they follow from; `manage.py rederive --check` proves it. Condition is written by
    inventory/readiness.py's caller there too; standing only by inventory/holds.py.
    """

    code = models.CharField(max_length=5, unique=True, editable=False)
    species = models.ForeignKey("inventory.Species", models.PROTECT, related_name="slabs")
    log = models.ForeignKey(
        "inventory.Log", models.PROTECT, null=True, blank=True, related_name="slabs"
    )
    parcel = models.ForeignKey(
        "inventory.Parcel", models.PROTECT, null=True, blank=True, related_name="slabs"
    )
    number_in_log = models.PositiveSmallIntegerField("number in sawn order", null=True, blank=True)
    sawn = models.CharField(
        "how it was sawn", max_length=8, choices=Sawn.choices, blank=True, default=Sawn.UNKNOWN
    )
    sawn_on = models.DateField(null=True, blank=True)
    length_mm = models.FloatField()
    thickness_mm = models.FloatField()
    widths = models.JSONField(
        default=list,
        help_text="Inside bark: a list of [place along the length 0…1, width in mm]",
    )
    are_widths_unplaced = models.BooleanField(
        default=False,
        help_text="Only least, middle and greatest width were taken, not where along the slab",
    )
    figures = models.JSONField("figure", default=list, blank=True)
    faults = models.JSONField(default=list, blank=True)
    place = models.ForeignKey(
        "inventory.Place", models.PROTECT, null=True, blank=True, related_name="slabs"
    )
    bay = models.ForeignKey(
        "inventory.Bay", models.PROTECT, null=True, blank=True, related_name="slabs"
    )
    own_cost = models.DecimalField(
        "own cost, beside a parcel's share", max_digits=12, decimal_places=2, null=True, blank=True
    )
    asking_price = models.DecimalField(max_digits=12, decimal_places=2, null=True, blank=True)
    house_note = models.TextField("note for the house", blank=True)
    client_note = models.TextField("note for clients", blank=True)
    received_at = models.DateTimeField(auto_now_add=True)

    # Derived: shape and worth.
    mean_width_mm = models.FloatField(editable=False, default=0)
    least_width_mm = models.FloatField(editable=False, default=0)
    greatest_width_mm = models.FloatField(editable=False, default=0)
    area_mm2 = models.FloatField(editable=False, default=0)
    wood_mm2 = models.FloatField(editable=False, default=0)
    volume_mm3 = models.FloatField(editable=False, default=0)
    circle_mm = models.FloatField("largest circle", editable=False, default=0)
    shape_basis = models.CharField(max_length=6, editable=False, default="", blank=True)
    cost = models.DecimalField(
        "landed cost", max_digits=12, decimal_places=2, editable=False, default=0
    )
    figure_words = models.CharField(max_length=120, editable=False, default="", blank=True)

    # Derived: moisture.
    latest_check = models.ForeignKey(
        "inventory.MoistureCheck",
        models.SET_NULL,
        null=True,
        editable=False,
        related_name="+",
    )
    checked_on = models.DateField(null=True, editable=False)
    mc_pct = models.FloatField("latest mean moisture", null=True, editable=False)
    check_due_on = models.DateField(null=True, editable=False)
    condition = models.CharField(
        max_length=8, choices=Condition.choices, default=Condition.UNKNOWN, editable=False
    )
    condition_until = models.DateField(
        null=True, editable=False, help_text="Last day on which the stored condition is true"
    )
    ready_since = models.DateField(null=True, editable=False)

    # Derived: standing and picture.
    standing = models.CharField(
        max_length=8, choices=Standing.choices, default=Standing.FREE, editable=False
    )
    gone_how = models.CharField(
        max_length=11, choices=GoneHow.choices, blank=True, default="", editable=False
    )
    cover = models.ForeignKey(
        "inventory.Photo", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    derived_fields: ClassVar[tuple[str, ...]] = (
        "mean_width_mm",
        "least_width_mm",
        "greatest_width_mm",
        "area_mm2",
        "wood_mm2",
        "volume_mm3",
        "circle_mm",
        "shape_basis",
        "cost",
        "figure_words",
        "latest_check_id",
        "checked_on",
        "mc_pct",
        "check_due_on",
        "condition",
        "condition_until",
        "ready_since",
        "standing",
        "gone_how",
        "cover_id",
    )

    objects = SlabQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        permissions = [
            ("record_slab", "May receive, measure and photograph slabs"),
            ("move_slab", "May move slabs and change their drying stage"),
            ("see_cost", "May see cost, supplier and worth"),
            ("price_slab", "May set cost and asking price"),
            ("keep_parcels", "May keep parcels, logs and their costs"),
            ("hold_slab", "May hold and release slabs"),
            ("allot_slab", "May allot slabs to commissions"),
            ("dispose_slab", "May mark slabs used, sold or written off"),
            ("log_moisture", "May enter moisture checks"),
            ("log_air", "May enter air records"),
            ("keep_yard", "May keep places, meters and species"),
            ("keep_people", "May add people and set what they may do"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["log", "number_in_log"],
                name="slab_number_once_in_log",
                violation_error_message="This log has a slab of that number already.",
            ),
            models.CheckConstraint(
                condition=Q(length_mm__gt=0, thickness_mm__gt=0), name="slab_has_size"
            ),
            models.CheckConstraint(
                condition=Q(gone_how="") | Q(standing="gone"), name="slab_gone_says_how"
            ),
        ]
        indexes = [
            models.Index(
                fields=["standing", "condition", "species", "place", "sawn"],
                name="slab_choices",
            ),
            # Holds all that the browse page narrows, counts and sorts by, so that its counts and
            # the keys of a page are read from here alone (tests/bench/test_bench_catalogue.py).
            models.Index(
                fields=[
                    "standing",
                    "species",
                    "condition",
                    "place",
                    "sawn",
                    "figure_words",
                    "length_mm",
                    "mean_width_mm",
                    "thickness_mm",
                    "asking_price",
                    "mc_pct",
                    "received_at",
                    "code",
                ],
                name="slab_browse",
            ),
            models.Index(fields=["standing", "check_due_on"], name="slab_due"),
            models.Index(fields=["condition_until"], name="slab_condition_until"),
        ]

    def __str__(self) -> str:
        return self.display_code

    def get_absolute_url(self) -> str:
        return reverse("catalogue:slab", args=[self.code])

    @property
    def display_code(self) -> str:
        """The code as it is written on the tag: K7M-4Q."""
        return codes.display(self.code)

    @property
    def stations(self) -> list[WidthAt]:
        """The widths as wood/outline.py takes them."""
        return [WidthAt(along, width_mm) for along, width_mm in self.widths]

    @property
    def figure_labels(self) -> list[str]:
        return [str(Figure(value).label) for value in self.figures]

    @property
    def fault_labels(self) -> list[str]:
        return [str(Fault(value).label) for value in self.faults]
