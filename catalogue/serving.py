"""Bringing a yard up on this machine: database, static files, addresses, and the server."""

import json
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import segno
import waitress
from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.management import call_command
from django.core.wsgi import get_wsgi_application
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

THREADS = 8
Say = Callable[[str], None]


def prepare(say: Say) -> None:
    """Make folders, bring the database up to date and gather static files, only where needed."""
    settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
    settings.MEDIA_ROOT.mkdir(parents=True, exist_ok=True)
    if has_migrations_to_run():
        say("Bringing the database up to date …")
        call_command("migrate", interactive=False, verbosity=0)
    if static_is_stale():
        say("Gathering pictures, type and styles …")
        call_command("collectstatic", interactive=False, verbosity=0)


def has_migrations_to_run() -> bool:
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def static_is_stale() -> bool:
    """Whether a source of a static file is not among the gathered ones, or newer than they are."""
    manifest = Path(settings.STATIC_ROOT) / "staticfiles.json"
    if not manifest.exists():
        return True
    gathered = json.loads(manifest.read_text(encoding="utf-8"))["paths"]
    gathered_at = manifest.stat().st_mtime
    return any(
        gathered_name(storage, name) not in gathered
        or Path(storage.path(name)).stat().st_mtime > gathered_at
        for finder in finders.get_finders()
        for name, storage in finder.list([])
    )


def gathered_name(storage: Any, name: str) -> str:
    """How a source file is named among the gathered ones: with its folder's prefix, if any."""
    path = Path(getattr(storage, "prefix", None) or "", name)
    return path.as_posix()


def lan_address() -> str | None:
    """This machine's address on the local network; None when it has no other than itself.

    Connecting a datagram socket sends nothing: it only asks the system which way it would go.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            address = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if address.startswith("127.") else address


def free_port(host: str, wanted: int) -> int:
    """`wanted`, or the next free one of the twenty after it.

    Raises:
        OSError: when none of them is free.
    """
    for port in range(wanted, wanted + 20):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError:
                continue
            return port
    raise OSError(f"No free port from {wanted} to {wanted + 19}.")


def qr_for_terminal(address: str) -> str:
    """The address as a QR code of block characters, for phones to read off the screen."""
    import io

    out = io.StringIO()
    segno.make(address, micro=False).terminal(out, compact=True)
    return out.getvalue()


def answer_to(*hosts: str) -> None:
    """Let the site answer to these names beside the configured ones."""
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *hosts]


def serve(host: str, port: int) -> None:
    """Serve until stopped, through a production server that runs on every desktop system."""
    waitress.serve(
        get_wsgi_application(),
        host=host,
        port=port,
        threads=THREADS,
        ident=None,
        max_request_body_size=1024 * 1024 * 1024,
    )
