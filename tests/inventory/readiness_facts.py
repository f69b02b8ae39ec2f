"""Facts for readiness tests: a slab that is ready on DAY, changed one thing at a time."""

from datetime import date, timedelta
from typing import Any

from inventory.readiness import CheckFacts, Facts, StageFacts

DAY = date(2026, 5, 20)


def days_before(days: int) -> date:
    return DAY - timedelta(days=days)


def check(days_ago: int = 2, **kwargs: Any) -> CheckFacts:
    """A trusted check at five readings, 7.2 % in the mean, core 0.6 above the shell."""
    defaults: dict[str, Any] = {
        "pk": 1000 - days_ago,
        "on": days_before(days_ago),
        "mean_pct": 7.2,
        "max_pct": 7.8,
        "shell_pct": 6.9,
        "core_pct": 7.5,
        "spread_pct": 0.4,
        "places": 3,
        "is_trusted": True,
    }
    return CheckFacts(**{**defaults, **kwargs})


def stage(
    kind: str = "shop", begun: int = 60, ended: int | None = None, shop_air: bool = True
) -> StageFacts:
    """A stage begun and ended so many days before DAY."""
    ended_on = None if ended is None else days_before(ended)
    return StageFacts(kind, days_before(begun), ended_on, shop_air)


def facts(
    *checks: CheckFacts, stages: tuple[StageFacts, ...] | None = None, thickness_mm: float = 54.0
) -> Facts:
    """A slab ready on DAY unless told otherwise: two steady checks, 60 days in shop air."""
    found = checks or (check(2), check(20))
    return Facts(found, (stage(),) if stages is None else stages, thickness_mm)
