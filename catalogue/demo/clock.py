"""Days counted back from the day of loading, and chance that repeats itself."""

import zlib
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from django.utils import timezone


@dataclass(frozen=True)
class Clock:
    """The moment of loading, from which the source data counts its days."""

    now: datetime

    @property
    def today(self) -> date:
        return timezone.localtime(self.now).date()

    def day(self, days_ago: int) -> date:
        """That many days before today; after today when below 0."""
        return self.today - timedelta(days=days_ago)

    def at(self, days_ago: int, hour: int = 9, minute: int = 0) -> datetime:
        """The time of day of the yard's own clock on that day, but never later than now."""
        moment = datetime.combine(self.day(days_ago), time(hour, minute))
        return min(timezone.make_aware(moment), self.now)


def chance(seed: int, *about: object) -> np.random.Generator:
    """The numbers that one matter draws; what else is loaded does not change them."""
    words = "/".join(str(word) for word in about)
    return np.random.default_rng([seed, zlib.crc32(words.encode())])
