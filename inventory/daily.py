"""What the calendar alone changes, done once a day by the first request: no nightly job.

Holds lapse after their last day; a stored condition holds until `condition_until`. Nothing made
during a day can fall due before the next, so one look a day and process is enough.
"""

from collections.abc import Callable
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

_last_day: date | None = None


def new_day(today: date) -> None:
    """Lapse holds, re-judge conditions the calendar has overtaken, warn; safe to repeat."""
    from inventory import derive, holds, watch

    holds.lapse_due(today)
    derive.refresh_conditions(today)
    watch.look_daily(today)


def forget_day() -> None:
    """Make the next request look again (tests; after a restore)."""
    global _last_day
    _last_day = None


class DailyMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        global _last_day
        today = timezone.localdate()
        if _last_day != today:
            new_day(today)
            _last_day = today
        return self.get_response(request)
