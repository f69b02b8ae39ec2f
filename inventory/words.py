"""Small pieces of plain speech that rules and pages share."""

from collections.abc import Sequence
from datetime import date


def day_words(value: date, today: date | None = None) -> str:
    """`3 May 2026`; without the year when it is that of `today`."""
    words = f"{value.day} {value:%B}"
    return words if today is not None and value.year == today.year else f"{words} {value.year}"


def join_words(words: Sequence[str], last: str = "and") -> str:
    """`ash, oak and elm`."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
