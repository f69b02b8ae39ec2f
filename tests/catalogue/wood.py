"""Wood as the commission tests want it: dry, wet, or never checked."""

from datetime import date, timedelta
from typing import Any

from inventory import derive
from inventory.models import DryingStage, MoistureCheck, Slab, StageKind
from tests.factories import at, make_log, make_place, make_slab

TODAY = date(2026, 4, 10)
NOW = at(2026, 4, 10)


def check(slab: Slab, on: date, mean_pct: float, **kwargs: Any) -> MoistureCheck:
    """A whole, trusted and even check with that mean, % MC."""
    figures: dict[str, Any] = {
        "mean_pct": mean_pct,
        "max_pct": mean_pct + 0.3,
        "min_pct": mean_pct - 0.3,
        "shell_pct": mean_pct - 0.2,
        "core_pct": mean_pct + 0.3,
        "gradient_pct": 0.5,
        "spread_pct": 0.4,
        "places": 3,
        "is_trusted": True,
    }
    made = at(on.year, on.month, on.day)
    return MoistureCheck.objects.create(slab=slab, on=on, at=made, **{**figures, **kwargs})


def make_checked(mean_pct: float, on: date = TODAY, **kwargs: Any) -> Slab:
    """A slab long in shop air, checked twice with the same mean: ready when that is in range."""
    slab = make_slab(**kwargs)
    place = slab.place or make_place()
    DryingStage.objects.create(
        slab=slab, kind=StageKind.SHOP, place=place, started_on=on - timedelta(days=90)
    )
    for days in (25, 5):
        check(slab, on - timedelta(days=days), mean_pct)
    derive.write(slab, on, "shape", "moisture")
    return slab


def level(width_mm: float) -> list[tuple[float, float]]:
    """The same width from end to end."""
    return [(0.0, width_mm), (1.0, width_mm)]


def make_boule(count: int, width_mm: float = 600.0, mean_pct: float = 7.0, **kwargs: Any) -> Any:
    """Neighbours of one log in sawn order, dry."""
    log = make_log()
    return [
        make_checked(mean_pct, widths=level(width_mm), log=log, number_in_log=i + 1, **kwargs)
        for i in range(count)
    ]
