"""Clients, commissions and the wood promised to them."""

from catalogue.models.client import Client
from catalogue.models.commission import (
    Commission,
    CommissionHold,
    HowMade,
    KeptEdges,
    LaidTop,
    Stage,
    TopShape,
    Use,
)

__all__ = [
    "Client",
    "Commission",
    "CommissionHold",
    "HowMade",
    "KeptEdges",
    "LaidTop",
    "Stage",
    "TopShape",
    "Use",
]
