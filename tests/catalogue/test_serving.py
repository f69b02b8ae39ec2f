"""Bringing a yard up: what is made only where needed, and the address phones are given."""

import json
import os
import socket
import time
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from catalogue import serving


@pytest.fixture
def gathered(settings: Any, tmp_path: Path) -> Path:
    """The static files gathered into a scratch folder, hashed as in production."""
    settings.STATIC_ROOT = tmp_path / "static"
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"},
    }
    call_command("collectstatic", interactive=False, verbosity=0)
    return tmp_path / "static" / "staticfiles.json"


def test_a_new_yard_has_its_static_files_still_to_gather(settings: Any, tmp_path: Path) -> None:
    settings.STATIC_ROOT = tmp_path / "nothing-here"
    assert serving.static_is_stale()


def test_gathered_files_are_not_gathered_again_until_a_source_changes(gathered: Path) -> None:
    assert not serving.static_is_stale()
    long_ago = time.time() - 3600 * 24 * 365 * 30
    os.utime(gathered, (long_ago, long_ago))
    assert serving.static_is_stale()


def test_a_source_that_was_never_gathered_is_noticed_whatever_its_age(gathered: Path) -> None:
    manifest = json.loads(gathered.read_text(encoding="utf-8"))
    del manifest["paths"]["css/base.css"]
    gathered.write_text(json.dumps(manifest), encoding="utf-8")
    assert serving.static_is_stale()


def test_a_taken_port_gives_way_to_the_next() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert port < serving.free_port("127.0.0.1", port) < port + 20


def test_the_terminal_code_is_drawn_for_the_address() -> None:
    short, long = (
        serving.qr_for_terminal(f"http://192.0.2.7:8000/{tail}") for tail in ("", "x" * 200)
    )
    assert len(short.splitlines()) > 10
    assert len(long.splitlines()) > len(short.splitlines())


@pytest.mark.django_db
def test_a_yard_brought_up_to_date_has_no_migrations_to_run() -> None:
    assert not serving.has_migrations_to_run()
