"""Photographs of slabs. Files are made once at intake (inventory/photos/)."""

from django.conf import settings
from django.db import models


class PhotoRole(models.TextChoices):
    FACE_DRY = "face_dry", "Face, dry"
    FACE_WET = "face_wet", "Face, wetted"
    OTHER_FACE = "other_face", "Other face"
    EDGE = "edge", "Edge"
    DETAIL = "detail", "Detail"


class PhotoSize(models.TextChoices):
    GRID = "grid", "Grid"
    PAGE = "page", "Page"
    ZOOM = "zoom", "Zoom"
    MASTER = "master", "Master"


class Photo(models.Model):
    """One upright, stripped picture and its three WebP derivatives; sizes in pixels."""

    slab = models.ForeignKey("inventory.Slab", models.PROTECT, related_name="photos")
    role = models.CharField(max_length=10, choices=PhotoRole.choices, default=PhotoRole.FACE_DRY)
    position = models.PositiveSmallIntegerField(default=0)
    master = models.FileField(upload_to="photos/%Y/%m/")
    grid = models.FileField(upload_to="photos/%Y/%m/")
    page = models.FileField(upload_to="photos/%Y/%m/")
    zoom = models.FileField(upload_to="photos/%Y/%m/")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    mean_colour = models.CharField(max_length=7, default="#b8aa98")
    sha256 = models.CharField(max_length=64)
    uploaded_name = models.CharField(max_length=120, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["slab", "position", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["slab", "sha256"],
                name="photo_once_for_a_slab",
                violation_error_message="This picture is with the slab already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} of {self.slab_id}"
