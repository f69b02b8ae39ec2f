"""The admin: what describes the yard may be edited, what happened to slabs may only be read.

Whatever stored results follow from (a place's kind, a parcel's split, a slab) is changed on its own
page, by the operation that derives them anew.
"""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest

from inventory.models import (
    AirImport,
    AirRecord,
    Alert,
    Bay,
    BoardSections,
    Charge,
    ChargeSlab,
    CoreLog,
    CoreTemperature,
    DryingStage,
    Hold,
    LedgerEntry,
    Log,
    Meter,
    MeterCorrection,
    MeterTable,
    MeterTest,
    MoistureCheck,
    Parcel,
    ParcelCost,
    Person,
    Photo,
    Place,
    Reading,
    SampleBoard,
    SensorToken,
    Slab,
    Species,
    Weighing,
)


class OnlyRead:
    """Mixin: nobody adds, changes or deletes here, superusers included."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class NeverDeleted:
    """Mixin: what slabs and history point at stays."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class SetOnce:
    """Mixin: the fields `set_once` are chosen when a row is made and then only shown."""

    set_once: tuple[str, ...] = ()

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        return self.set_once if obj is not None else ()


@admin.register(Person)
class PersonAdmin(NeverDeleted, UserAdmin[Person]):
    """People are made inactive, not deleted: the ledger names them."""

    fieldsets = (*(UserAdmin.fieldsets or ()), ("Units", {"fields": ("length_system",)}))


@admin.register(Species)
class SpeciesAdmin(admin.ModelAdmin[Species]):
    """Published rows come with the application and are only read."""

    list_display = ("common_name", "botanical_name", "wood_group", "is_published")
    list_filter = ("is_published", "wood_group")
    search_fields = ("common_name", "botanical_name", "other_names")

    def has_change_permission(self, request: HttpRequest, obj: Species | None = None) -> bool:
        if obj is not None and obj.is_published:
            return False
        return super().has_change_permission(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Species | None = None) -> bool:
        if obj is None or obj.is_published:
            return False
        return super().has_delete_permission(request, obj)


@admin.register(Place)
class PlaceAdmin(SetOnce, NeverDeleted, admin.ModelAdmin[Place]):
    list_display = ("name", "kind", "position")
    set_once = ("kind",)


@admin.register(Bay)
class BayAdmin(SetOnce, NeverDeleted, admin.ModelAdmin[Bay]):
    list_display = ("name", "place", "position")
    list_select_related = ("place",)
    list_filter = ("place",)
    set_once = ("place",)


@admin.register(Meter)
class MeterAdmin(NeverDeleted, admin.ModelAdmin[Meter]):
    list_display = ("name", "method", "corrects_temperature", "corrects_species", "is_retired")


class CostsOfParcel(OnlyRead, admin.TabularInline[ParcelCost, Parcel]):
    model = ParcelCost
    fields = ("kind", "amount", "on", "note", "by", "at", "supersedes")
    readonly_fields = fields
    extra = 0
    can_delete = False


@admin.register(Parcel)
class ParcelAdmin(SetOnce, NeverDeleted, admin.ModelAdmin[Parcel]):
    list_display = ("name", "supplier", "bought_on", "split_basis")
    search_fields = ("name", "supplier")
    inlines = (CostsOfParcel,)
    set_once = ("split_basis",)


@admin.register(Log)
class LogAdmin(SetOnce, NeverDeleted, admin.ModelAdmin[Log]):
    list_display = ("number", "species", "parcel", "sawn_on")
    list_select_related = ("species", "parcel")
    search_fields = ("number",)
    set_once = ("species", "parcel")


@admin.register(Slab)
class SlabAdmin(OnlyRead, admin.ModelAdmin[Slab]):
    list_display = ("code", "species", "place", "bay", "condition", "standing")
    list_select_related = ("species", "place", "bay__place")
    list_filter = ("standing", "condition", "place")
    search_fields = ("code",)


@admin.register(LedgerEntry)
class LedgerAdmin(OnlyRead, admin.ModelAdmin[LedgerEntry]):
    list_display = ("at", "slab", "kind", "by", "before", "after", "note")
    list_select_related = ("slab", "by")
    list_filter = ("kind",)
    search_fields = ("slab__code", "note")


@admin.register(MoistureCheck)
class CheckAdmin(OnlyRead, admin.ModelAdmin[MoistureCheck]):
    list_display = ("on", "slab", "mean_pct", "max_pct", "gradient_pct", "is_trusted", "by")
    list_select_related = ("slab", "by")
    search_fields = ("slab__code",)


@admin.register(Reading)
class ReadingAdmin(OnlyRead, admin.ModelAdmin[Reading]):
    list_display = ("moisture_check", "position", "raw_pct", "corrected_pct", "zone", "range_flag")
    list_select_related = ("moisture_check",)


@admin.register(MeterTest)
class MeterTestAdmin(OnlyRead, admin.ModelAdmin[MeterTest]):
    list_display = ("on", "meter", "block_pct", "read_pct", "next_due_on", "by")
    list_select_related = ("meter", "by")
    list_filter = ("meter",)


@admin.register(MeterTable)
class MeterTableAdmin(OnlyRead, admin.ModelAdmin[MeterTable]):
    list_display = ("at", "meter", "note", "by")
    list_select_related = ("meter", "by")
    list_filter = ("meter",)


@admin.register(MeterCorrection)
class MeterCorrectionAdmin(OnlyRead, admin.ModelAdmin[MeterCorrection]):
    list_display = ("table", "species", "reading_pct", "corrected_pct")
    list_select_related = ("table", "species")


@admin.register(Weighing)
class WeighingAdmin(OnlyRead, admin.ModelAdmin[Weighing]):
    list_display = ("on", "slab", "board", "mass_kg", "basis", "by")
    list_select_related = ("slab", "board", "by")
    search_fields = ("slab__code", "board__name")


@admin.register(SampleBoard)
class SampleBoardAdmin(OnlyRead, admin.ModelAdmin[SampleBoard]):
    list_display = ("name", "slab", "log", "bay", "is_retired")
    list_select_related = ("slab", "log", "bay__place")
    search_fields = ("name",)


@admin.register(BoardSections)
class BoardSectionsAdmin(OnlyRead, admin.ModelAdmin[BoardSections]):
    list_display = ("on", "board", "board_mass_kg", "by")
    list_select_related = ("board", "by")


@admin.register(ParcelCost)
class CostAdmin(OnlyRead, admin.ModelAdmin[ParcelCost]):
    list_display = ("on", "parcel", "kind", "amount", "by")
    list_select_related = ("parcel", "by")


@admin.register(AirRecord)
class AirAdmin(OnlyRead, admin.ModelAdmin[AirRecord]):
    list_display = ("at", "place", "temp_c", "rh_pct", "emc_pct", "source")
    list_select_related = ("place",)
    list_filter = ("place",)


@admin.register(Alert)
class AlertAdmin(OnlyRead, admin.ModelAdmin[Alert]):
    list_display = ("raised_on", "kind", "slab", "place", "meter", "sentence", "resolved_on")
    list_select_related = ("slab", "place", "meter")
    list_filter = ("kind",)


@admin.register(AirImport)
class AirImportAdmin(OnlyRead, admin.ModelAdmin[AirImport]):
    list_display = ("uploaded_at", "uploaded_name", "place", "by", "state", "added", "bad_total")
    list_select_related = ("place", "by")
    list_filter = ("state", "place")


@admin.register(SensorToken)
class SensorAdmin(OnlyRead, admin.ModelAdmin[SensorToken]):
    """Without the token's hash; tokens are made and taken back on the place's own page."""

    list_display = ("name", "place", "made_by", "made_at", "last_seen_at", "revoked_at")
    list_select_related = ("place", "made_by")


@admin.register(DryingStage)
class StageAdmin(OnlyRead, admin.ModelAdmin[DryingStage]):
    list_display = ("slab", "kind", "place", "started_on", "ended_on")
    list_select_related = ("slab", "place")


@admin.register(Charge)
class ChargeAdmin(OnlyRead, admin.ModelAdmin[Charge]):
    list_display = ("name", "place", "started_on", "ended_on", "opened_by")
    list_select_related = ("place", "opened_by")
    list_filter = ("place",)
    search_fields = ("name",)


@admin.register(ChargeSlab)
class ChargeSlabAdmin(OnlyRead, admin.ModelAdmin[ChargeSlab]):
    list_display = ("charge", "slab", "entered_on", "left_on")
    list_select_related = ("charge", "slab")
    search_fields = ("slab__code", "charge__name")


@admin.register(CoreLog)
class CoreLogAdmin(OnlyRead, admin.ModelAdmin[CoreLog]):
    list_display = ("at", "charge", "by", "read_as", "set_aside_at", "set_aside_why")
    list_select_related = ("charge", "by")


@admin.register(CoreTemperature)
class CoreTemperatureAdmin(OnlyRead, admin.ModelAdmin[CoreTemperature]):
    list_display = ("at", "charge", "probe", "temp_c")
    list_select_related = ("charge",)
    list_filter = ("charge",)


@admin.register(Hold)
class HoldAdmin(OnlyRead, admin.ModelAdmin[Hold]):
    list_display = ("slab", "kind", "label", "until", "made_at", "ended_at", "ended_how")
    list_select_related = ("slab",)


@admin.register(Photo)
class PhotoAdmin(OnlyRead, admin.ModelAdmin[Photo]):
    """Without the files: their door is the page of the slab's pictures."""

    list_display = ("slab", "role", "position", "uploaded_name", "by", "at")
    list_select_related = ("slab", "by")
    exclude = ("master", "grid", "page", "zoom")
