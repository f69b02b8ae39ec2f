"""Django system checks: a misconfigured yard says so in a sentence before anyone uses it."""

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register

Apps = Sequence[AppConfig] | None


@register(Tags.security)
def malformed_settings(app_configs: Apps = None, **kwargs: Any) -> list[CheckMessage]:
    """One message for each environment variable that could not be read."""
    return [
        Error(f"{name}: {sentence}", hint="Mend the variable and start again.", id="waneyard.E001")
        for name, sentence in settings.SETTING_PROBLEMS
    ]


@register(Tags.files)
def unwritable_folders(app_configs: Apps = None, **kwargs: Any) -> list[CheckMessage]:
    """The folders for the record and the pictures must be ours to write."""
    places = (("WANEYARD_VAR", settings.VAR_DIR), ("WANEYARD_MEDIA", settings.MEDIA_ROOT))
    return [
        Error(
            f"{name}: the folder {folder} cannot be written to.",
            hint="Choose another folder, or let this user write there.",
            id="waneyard.E002",
        )
        for name, folder in places
        if not is_writable(Path(folder))
    ]


def is_writable(folder: Path) -> bool:
    """Whether the folder, or the nearest one above it that exists, can be written to."""
    while not folder.exists():
        folder = folder.parent
    return folder.is_dir() and os.access(folder, os.W_OK)


@register(Tags.security, deploy=True)
def plain_http(app_configs: Apps = None, **kwargs: Any) -> list[CheckMessage]:
    """A yard reached over the internet needs HTTPS."""
    if settings.HTTPS:
        return []
    return [
        Warning(
            "WANEYARD_HTTPS is off: passwords travel in the open.",
            hint="Put the yard behind HTTPS and set WANEYARD_HTTPS=on.",
            id="waneyard.W001",
        )
    ]
