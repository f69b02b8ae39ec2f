"""Layouts once found are remembered: the same top on the same wood is the same layout.

What is remembered follows from its key alone (the top, how it is made, the slabs' true shapes), so
nothing is ever out of date; a slab traced anew has another key.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

import shapely

from inventory.wood.shape import Shape

T = TypeVar("T")


class Memory(Generic[T]):
    """The latest `most` results by key, shared by all threads."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, T] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """What is remembered for the key, else what `make` gives; what it raises is not kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = make()
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)
        return made

    def forget(self) -> None:
        with self._lock:
            self._kept.clear()


def mark_of(shape: Shape) -> bytes:
    """The same for two shapes only where their wood is the same to the last digit."""
    told = shapely.to_wkb(shape.wood) + bytes([shape.is_approximate])
    return hashlib.blake2b(told, digest_size=16).digest()
