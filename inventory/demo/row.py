"""Read one table of a TOML file by typed steps, each refusal saying where and what."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from inventory.demo.look import SourceError


@dataclass(frozen=True)
class Row:
    """One table with the words that say where it stands, such as `logs: LG-03`."""

    values: Mapping[str, Any]
    where: str

    def refuse(self, why: str) -> SourceError:
        """The failure to raise about this row."""
        return SourceError(f"{self.where}: {why}")

    def raw(self, key: str) -> Any:
        """Whatever stands under `key`; missing is refused."""
        if key not in self.values:
            raise self.refuse(f"{key} is missing.")
        return self.values[key]

    def text(self, key: str) -> str:
        """Words, not empty."""
        value = self.raw(key)
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(f"{key} must be words, not {value!r}.")
        return value

    def one_of(self, key: str, choices: Collection[str]) -> str:
        """One of the words allowed."""
        value = self.text(key)
        if value not in choices:
            raise self.refuse(f"{key} {value!r} is not one of {', '.join(sorted(choices))}.")
        return value

    def number(self, key: str, least: float = 0.0, most: float = 1e6) -> float:
        """A number from `least` to `most`."""
        value = self.raw(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.refuse(f"{key} must be a number, not {value!r}.")
        if not least <= value <= most:
            raise self.refuse(f"{key} {value} is not between {least:g} and {most:g}.")
        return float(value)

    def whole(self, key: str, least: int = 0, most: int = 1_000_000) -> int:
        """A whole number from `least` to `most`."""
        value = self.number(key, least, most)
        if value != int(value):
            raise self.refuse(f"{key} {value} must be a whole number.")
        return int(value)

    def money(self, key: str) -> Decimal:
        """An amount written as words ("12.50") so that no cent is lost."""
        try:
            amount = Decimal(self.text(key))
        except InvalidOperation:
            raise self.refuse(f"{key} must be an amount such as 12.50.") from None
        if not amount.is_finite() or amount < 0:
            raise self.refuse(f"{key} {amount} must not be below nothing.")
        return amount

    def yes(self, key: str) -> bool:
        """true or false."""
        value = self.raw(key)
        if not isinstance(value, bool):
            raise self.refuse(f"{key} must be true or false, not {value!r}.")
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of words, perhaps empty."""
        value = self.raw(key)
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.refuse(f"{key} must be a list of words.")
        return tuple(value)

    def numbers(self, key: str, least: float = 0.0, most: float = 1e6) -> tuple[float, ...]:
        """A list of numbers, at least one, each from `least` to `most`."""
        value = self.raw(key)
        if not isinstance(value, list) or not value:
            raise self.refuse(f"{key} must be a list of numbers.")
        each = [Row({key: item}, self.where) for item in value]
        return tuple(row.number(key, least, most) for row in each)

    def rows(self, key: str) -> list["Row"]:
        """A list of tables inside this one."""
        return rows_of(self.values, key, f"{self.where}: ")


def rows_of(values: Mapping[str, Any], key: str, before: str = "") -> list[Row]:
    """Every table under `key`, each named by its first words or its place in the list."""
    tables = values.get(key, [])
    if not isinstance(tables, list) or not all(isinstance(table, Mapping) for table in tables):
        raise SourceError(f"{before}{key} must be a list of tables.")
    return [
        Row(table, f"{before}{key}: {_name(table, number)}")
        for number, table in enumerate(tables, 1)
    ]


def _name(table: Mapping[str, Any], number: int) -> str:
    for key in ("code", "name", "user_name", "title", "log"):
        if isinstance(table.get(key), str):
            return str(table[key])
    return f"number {number}"
