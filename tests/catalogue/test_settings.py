"""Settings from the environment: good ones are read, bad ones are said in a sentence."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from catalogue import environment
from catalogue.environment import SETTINGS, Environment
from catalogue.system_checks import is_writable

ROOT = Path(__file__).resolve().parents[2]


def run_manage(tmp_path: Path, *args: str, **extra: str) -> subprocess.CompletedProcess[str]:
    """manage.py in its own process with a scratch var and only the variables given."""
    env = {name: value for name, value in os.environ.items() if "WANEYARD" not in name}
    env.pop("DJANGO_SETTINGS_MODULE", None)
    env.pop("DATABASE_URL", None)
    env |= {"WANEYARD_VAR": str(tmp_path / "var"), **extra}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *args],
        env=env,
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("WANEYARD_UNITS", "cubits", "imperial or metric"),
        ("WANEYARD_CURRENCY", "ACORNS", "not a currency"),
        ("WANEYARD_TIME_ZONE", "Yard/Back", "not a time zone"),
        ("WANEYARD_DEBUG", "perhaps", "neither on nor off"),
        ("WANEYARD_LOCALE", "qq_QQ", "not a locale"),
        ("WANEYARD_PROXIES", "two", "not a whole number"),
        ("DATABASE_URL", "oracle://x/y", "not a database we use"),
    ],
)
def test_a_malformed_setting_stops_the_start_with_a_sentence(
    tmp_path: Path, name: str, value: str, words: str
) -> None:
    done = run_manage(tmp_path, "check", **{name: value})
    assert done.returncode != 0
    assert f"{name}: " in done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_production_settings_pass_the_deployment_check(tmp_path: Path) -> None:
    done = run_manage(
        tmp_path,
        "check",
        "--deploy",
        "--fail-level",
        "WARNING",
        WANEYARD_HTTPS="on",
        WANEYARD_ALLOWED_HOSTS="yard.example",
    )
    assert done.returncode == 0, done.stderr


def test_plain_http_is_said_before_going_out(tmp_path: Path) -> None:
    done = run_manage(tmp_path, "check", "--deploy")
    assert "passwords travel in the open" in done.stderr


def test_the_secret_key_is_made_once_and_kept_to_its_owner(tmp_path: Path) -> None:
    key = environment.kept_secret_key(tmp_path / "var")
    assert len(key) > 50
    assert environment.kept_secret_key(tmp_path / "var") == key
    assert os.name == "nt" or (tmp_path / "var" / "secret_key").stat().st_mode & 0o077 == 0


def test_an_unset_setting_takes_its_default() -> None:
    assert Environment().read("WANEYARD_NO_SUCH", "default", str) == "default"


def test_every_setting_is_documented_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    missing = [setting.name for setting in SETTINGS if f"`{setting.name}`" not in readme]
    assert not missing


def test_settings_read_no_variable_that_is_not_listed() -> None:
    listed = {setting.name for setting in SETTINGS}
    source = (ROOT / "catalogue" / "settings.py").read_text(encoding="utf-8")
    read = {word.strip('",') for word in source.split('"') if word.startswith("WANEYARD_")}
    assert read <= listed


def test_a_folder_that_does_not_exist_yet_is_judged_by_the_one_above(tmp_path: Path) -> None:
    assert is_writable(tmp_path / "a" / "b")
    file = tmp_path / "file"
    file.write_text("")
    assert not is_writable(file / "inside")


def test_a_bad_media_folder_is_said(settings: Any, tmp_path: Path) -> None:
    from catalogue.system_checks import unwritable_folders

    blocked = tmp_path / "not-a-folder"
    blocked.write_text("")
    settings.MEDIA_ROOT = blocked / "media"
    assert [message.id for message in unwritable_folders()] == ["waneyard.E002"]
