"""What the commands share: that there is a yard to work on."""

from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection

from inventory.models import Slab


def needs_yard() -> None:
    """Refuse in a sentence where no yard has been begun.

    Raises:
        CommandError: when the database holds no table of ours.
    """
    if Slab._meta.db_table not in connection.introspection.table_names():
        raise CommandError(
            f"There is no yard in {settings.VAR_DIR} yet. Begin one with manage.py serve; for the "
            "demo yard, set WANEYARD_VAR=var/demo."
        )
