"""What the environment says about this yard, read once, with every problem kept as a sentence.

A malformed value never stops the import: it falls back to the default and is reported by the
system checks (catalogue/system_checks.py), so that the person reads one clear sentence.
"""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import environ
from babel.numbers import list_currencies

BASE_DIR = Path(__file__).resolve().parent.parent


@dataclass(frozen=True)
class Setting:
    """One environment variable: its name, what it means, and its default in words."""

    name: str
    meaning: str
    default: str


SETTINGS: tuple[Setting, ...] = (
    Setting("WANEYARD_VAR", "Folder for the database, pictures and secret key", "var"),
    Setting("WANEYARD_SECRET_KEY", "Key that signs sessions", "made and kept in var/secret_key"),
    Setting("WANEYARD_DEBUG", "on while developing; never where others can reach it", "off"),
    Setting("WANEYARD_HTTPS", "on when served over HTTPS: secure cookies, HSTS", "off"),
    Setting("WANEYARD_ALLOWED_HOSTS", "Names and addresses the yard answers to, by commas", "this"),
    Setting("WANEYARD_TRUSTED_ORIGINS", "Origins whose forms are trusted behind a proxy", "none"),
    Setting("WANEYARD_PROXIES", "How many trusted proxies stand in front", "0"),
    Setting("WANEYARD_MEDIA", "Folder for pictures", "media inside WANEYARD_VAR"),
    Setting("WANEYARD_UNITS", "imperial or metric, for people who have not chosen", "imperial"),
    Setting("WANEYARD_CURRENCY", "Three-letter currency of the shop", "USD"),
    Setting("WANEYARD_LOCALE", "How numbers and money are written, such as en_US", "en_US"),
    Setting("WANEYARD_TIME_ZONE", "Time zone of the yard, such as Europe/Helsinki", "UTC"),
    Setting("DATABASE_URL", "Database address; SQLite unless given", "sqlite in WANEYARD_VAR"),
)


@dataclass
class Environment:
    """Typed reader of the variables above; `problems` collects (variable, sentence)."""

    env: environ.Env = field(default_factory=environ.Env)
    problems: list[tuple[str, str]] = field(default_factory=list)

    def read(self, name: str, default: Any, parse: Callable[[str], Any]) -> Any:
        """The parsed value of `name`, or `default` when unset or malformed (then noted)."""
        text = self.env.str(name, default="").strip()
        if not text:
            return default
        try:
            return parse(text)
        except ValueError as problem:
            self.problems.append((name, str(problem)))
            return default

    def switch(self, name: str) -> bool:
        return bool(self.read(name, False, parse_switch))

    def names(self, name: str, default: list[str]) -> list[str]:
        return list(self.read(name, default, parse_names))

    def database(self, default: dict[str, Any]) -> dict[str, Any]:
        return dict(self.read("DATABASE_URL", default, parse_database))


def parse_switch(text: str) -> bool:
    words = {"on": True, "1": True, "true": True, "yes": True}
    words |= {"off": False, "0": False, "false": False, "no": False}
    if text.lower() not in words:
        raise ValueError(f"“{text}” is neither on nor off.")
    return words[text.lower()]


def parse_names(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def parse_units(text: str) -> str:
    if text not in ("imperial", "metric"):
        raise ValueError(f"“{text}” is not a system of units: write imperial or metric.")
    return text


def parse_currency(text: str) -> str:
    if text.upper() not in list_currencies():
        raise ValueError(f"“{text}” is not a currency: write its three letters, such as EUR.")
    return text.upper()


def parse_time_zone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError) as problem:
        raise ValueError(
            f"“{text}” is not a time zone: write one like Europe/Helsinki."
        ) from problem
    return text


def parse_locale(text: str) -> str:
    from babel import Locale, UnknownLocaleError

    try:
        Locale.parse(text)
    except (UnknownLocaleError, ValueError) as problem:
        raise ValueError(f"“{text}” is not a locale: write one like en_US or fi_FI.") from problem
    return text


def parse_count(text: str) -> int:
    if not text.isdigit():
        raise ValueError(f"“{text}” is not a whole number.")
    return int(text)


def parse_database(text: str) -> dict[str, Any]:
    scheme = text.split(":", 1)[0]
    if scheme not in ("sqlite", "postgres", "postgresql"):
        raise ValueError(f"“{scheme}” is not a database we use: write sqlite:/// or postgres://.")
    config: dict[str, Any] = environ.Env.db_url_config(text)
    if not config.get("NAME"):
        raise ValueError("The address names no database.")
    return config


def kept_secret_key(var_dir: Path) -> str:
    """The secret key of this yard: made on first run, kept readable by its owner only."""
    path = var_dir / "secret_key"
    if path.exists():
        return path.read_text(encoding="ascii").strip()
    var_dir.mkdir(parents=True, exist_ok=True)
    key = secrets.token_urlsafe(64)
    path.touch(mode=0o600)
    path.write_text(key, encoding="ascii")
    return key
