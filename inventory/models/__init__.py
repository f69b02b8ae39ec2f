"""The record of wood."""

from inventory.models.air import AirDayMean, AirImport, ImportState, SensorToken, TypicalYear
from inventory.models.alert import Alert, AlertKind
from inventory.models.charge import Charge, ChargeSlab, CoreLog, CoreTemperature
from inventory.models.forecast import ForecastState, SlabForecast
from inventory.models.history import AppendOnly, AppendOnlyQuerySet, HistoryIsKept
from inventory.models.hold import Hold, HoldEnd, HoldKind
from inventory.models.ledger import MONEY_KINDS, LedgerEntry, LedgerKind
from inventory.models.meter_history import MeterCorrection, MeterTable, MeterTest
from inventory.models.moisture import Meter, Method, MoistureCheck, RangeFlag, Reading, Zone
from inventory.models.outline import FaceSide, Outline, ShapeBasis, SlabShape
from inventory.models.parcel import CostKind, Log, Parcel, ParcelCost, SplitBasis
from inventory.models.people import LengthSystem, Person
from inventory.models.photo import Photo, PhotoRole, PhotoSize
from inventory.models.place import AirGiven, AirRecord, AirSource, Bay, Place, PlaceKind
from inventory.models.slab import (
    Condition,
    Fault,
    Figure,
    GoneHow,
    Sawn,
    Slab,
    SlabQuerySet,
    Standing,
)
from inventory.models.species import Species
from inventory.models.stage import DryingStage, StageKind
from inventory.models.weighing import Basis, BoardSections, SampleBoard, Weighing

__all__ = [
    "MONEY_KINDS",
    "AirDayMean",
    "AirGiven",
    "AirImport",
    "AirRecord",
    "AirSource",
    "Alert",
    "AlertKind",
    "AppendOnly",
    "AppendOnlyQuerySet",
    "Basis",
    "Bay",
    "BoardSections",
    "Charge",
    "ChargeSlab",
    "Condition",
    "CoreLog",
    "CoreTemperature",
    "CostKind",
    "DryingStage",
    "FaceSide",
    "Fault",
    "Figure",
    "ForecastState",
    "GoneHow",
    "HistoryIsKept",
    "Hold",
    "HoldEnd",
    "HoldKind",
    "ImportState",
    "LedgerEntry",
    "LedgerKind",
    "LengthSystem",
    "Log",
    "Meter",
    "MeterCorrection",
    "MeterTable",
    "MeterTest",
    "Method",
    "MoistureCheck",
    "Outline",
    "Parcel",
    "ParcelCost",
    "Person",
    "Photo",
    "PhotoRole",
    "PhotoSize",
    "Place",
    "PlaceKind",
    "RangeFlag",
    "Reading",
    "SampleBoard",
    "Sawn",
    "SensorToken",
    "ShapeBasis",
    "Slab",
    "SlabForecast",
    "SlabQuerySet",
    "SlabShape",
    "Species",
    "SplitBasis",
    "StageKind",
    "Standing",
    "TypicalYear",
    "Weighing",
    "Zone",
]
