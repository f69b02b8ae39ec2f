"""What can be wrong with a photograph as a measure, each said in one sentence to the person.

A problem that *stops* leaves nothing that should be saved as measured; a *caution* is shown beside
the result and kept with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Trouble(StrEnum):
    """The kinds of problem, to count and to test by; people read the sentence."""

    NO_SHEET = "no sheet"
    FEW_MARKS = "few marks"
    MARKS_SMALL = "marks small"
    BENT = "bent sheet"
    DISAGREE = "sheets disagree"
    LEFT_OUT = "sheet left out"
    OFF_SLAB = "sheet off the slab"
    UNSURE = "size unsure"
    TILTED = "tilted"
    SCALE_ONLY = "scale only"
    RAISED = "raised from the floor"
    BAD_CORNERS = "bad corners"
    CUT_OFF = "slab cut off"
    LENGTH = "length differs"
    WIDTH = "width differs"
    FACES = "faces differ"
    NO_OUTLINE = "no outline"
    CROSSING = "outline crosses itself"
    MENDED = "outline mended"
    HOLE = "hole"
    UNLIKELY = "unlikely size"
    NO_DRAFT = "no draft"
    WEAK_EDGE = "weak edge"


@dataclass(frozen=True)
class Problem:
    """One thing to tell the person."""

    trouble: Trouble
    sentence: str
    stops: bool = False

    def __str__(self) -> str:
        return self.sentence


def stopping(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Those of the problems that leave nothing to save."""
    return tuple(problem for problem in problems if problem.stops)


def listed(numbers: Iterable[int]) -> str:
    """1 → 'sheet 1'; 1, 2, 3 → 'sheets 1, 2 and 3'."""
    words = [str(number) for number in sorted(numbers)]
    if len(words) == 1:
        return f"sheet {words[0]}"
    return f"sheets {', '.join(words[:-1])} and {words[-1]}"


def sentence_start(words: str) -> str:
    """The words with their first letter large, the rest as they are."""
    return words[:1].upper() + words[1:]
