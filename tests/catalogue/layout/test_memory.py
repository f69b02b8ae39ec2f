"""Layouts are remembered by all they follow from, the latest so many of them."""

from dataclasses import replace

import pytest

from catalogue.layout.memory import Memory, mark_of
from inventory.wood.outline import WidthAt
from inventory.wood.shape import face_of_widths, shape_of


def test_the_latest_are_remembered_and_what_was_asked_lately_stays() -> None:
    memory: Memory[int] = Memory(2)
    made: list[str] = []

    def ask(key: str) -> int:
        def make() -> int:
            made.append(key)
            return len(made)

        return memory.get(key, make)

    assert [ask("a"), ask("b"), ask("a"), ask("c"), ask("a")] == [1, 2, 1, 3, 1]
    assert ask("b") == 4
    memory.forget()
    assert ask("a") == 5


def test_what_is_raised_is_not_remembered() -> None:
    memory: Memory[int] = Memory(2)
    with pytest.raises(ZeroDivisionError):
        memory.get("a", lambda: 1 // 0)
    assert memory.get("a", lambda: 7) == 7


def test_the_mark_of_a_shape_is_of_its_wood_to_the_last_digit() -> None:
    def board(width_mm: float) -> bytes:
        stations = [WidthAt(0.0, width_mm), WidthAt(1.0, width_mm)]
        return mark_of(shape_of(face_of_widths(2000.0, stations)))

    assert board(700.0) == board(700.0)
    assert board(700.0) != board(700.0000001)
    traced = shape_of(face_of_widths(2000.0, [WidthAt(0.0, 700.0), WidthAt(1.0, 700.0)]))
    assert mark_of(traced) != mark_of(replace(traced, is_approximate=True))
