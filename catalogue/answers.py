"""What the list is asked of the slabs: counts by group, the keys of a page, the greatest sizes.

Mostly each is a statement of its own over the index `slab_browse`, and nothing is read that is not
shown. A word, though, may stand in a note, and notes lie outside every index: each statement that
asks for it reads every slab's row. Where the word is on so many slabs that their keys cannot be
named instead (`filters.MOST_KEYS`), the rows are read once, with what they are counted and ordered
by, and all is reckoned from that reading.
"""

from collections import Counter
from dataclasses import dataclass
from itertools import compress, islice
from typing import Any, Protocol

import numpy as np
from django.db.models import Max
from numpy.typing import NDArray

from catalogue.filters import SlabFilter
from catalogue.groups import Group

LENGTH, WIDTH = "length_mm", "greatest_width_mm"
ROWS_AT_ONCE = 5_000


class Answers(Protocol):
    def counts(self, group: Group) -> dict[str, int]:
        """How many slabs each choice of the group would show alone, all else as it is asked."""

    def keys(self, start: int, stop: int) -> list[int]:
        """The slabs from one place of the list to another, in its order."""

    def greatest_mm(self) -> tuple[float, float]:
        """The greatest length and width on the list; 0 for none."""


def answers_to(asked: SlabFilter, order: tuple[Any, ...]) -> Answers:
    slabs = asked.by_fields_where_many()
    # A ticked group narrows most statements by the index, before any note is read.
    if slabs is None or any(asked.asked(group.name) for group in asked.groups):
        return ByStatements(asked, order)
    wanted = {"pk": "pk", LENGTH: LENGTH, WIDTH: WIDTH} | {g.name: g.read() for g in asked.groups}
    rows = slabs.order_by(*order).values_list(*wanted.values()).iterator(ROWS_AT_ONCE)
    columns = list(zip(*rows, strict=True)) or [()] * len(wanted)
    return FromOneReading(asked.groups, dict(zip(wanted, columns, strict=True)))


@dataclass(frozen=True)
class ByStatements:
    asked: SlabFilter
    order: tuple[Any, ...]

    def counts(self, group: Group) -> dict[str, int]:
        return group.count(self.asked.narrowed(ignoring=group.name))

    def keys(self, start: int, stop: int) -> list[int]:
        ordered = self.asked.narrowed().order_by(*self.order)
        return list(ordered.values_list("pk", flat=True)[start:stop])

    def greatest_mm(self) -> tuple[float, float]:
        slabs = self.asked.narrowed().order_by()
        most = slabs.aggregate(length=Max(LENGTH), width=Max(WIDTH))
        return most["length"] or 0.0, most["width"] or 0.0


class FromOneReading:
    """From columns already read, by name (a group's by the group's); rows in the list's order.

    Nothing is ticked in any group; what a group keeps when none is (`Group.when_none`) applies.
    """

    def __init__(self, groups: list[Group], read: dict[str, tuple[Any, ...]]) -> None:
        self._read = read
        self._kept_by = {group.name: self._keeps(group) for group in groups if group.when_none}

    def _keeps(self, group: Group) -> NDArray[np.bool_]:
        return np.array([held in group.when_none for held in self._read[group.name]], dtype=bool)

    def _kept(self, name: str, ignoring: str = "") -> "compress[Any]":
        """A column's values where every silent choice, save one group's, keeps the row."""
        kept = np.ones(len(self._read[name]), dtype=bool)
        for group, keeps in self._kept_by.items():
            if group != ignoring:
                kept &= keeps
        return compress(self._read[name], kept.tolist())

    def counts(self, group: Group) -> dict[str, int]:
        return group.summed(Counter(self._kept(group.name, ignoring=group.name)))

    def keys(self, start: int, stop: int) -> list[int]:
        return list(islice(self._kept("pk"), start, stop))

    def greatest_mm(self) -> tuple[float, float]:
        return max(self._kept(LENGTH), default=0.0), max(self._kept(WIDTH), default=0.0)
