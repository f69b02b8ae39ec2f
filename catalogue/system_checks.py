"""Django system checks: a misconfigured yard says so in a sentence before anyone uses it."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


@register(Tags.security)
def malformed_settings(
    app_configs: Sequence[AppConfig] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """One message for each environment variable that could not be read."""
    return [
        Error(f"{name}: {sentence}", hint="Mend the variable and start again.", id="waneyard.E001")
        for name, sentence in settings.SETTING_PROBLEMS
    ]
