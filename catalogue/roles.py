"""What each role may do: the one table. Groups are made from it after every migration."""

from typing import Any

from django.contrib.auth.models import Group, Permission
from django.db import transaction

OWNER, WORKER, BUYER = "Owner", "Worker", "Buyer"

ROLES: dict[str, tuple[str, ...]] = {
    OWNER: (
        "record_slab",
        "move_slab",
        "see_cost",
        "price_slab",
        "keep_parcels",
        "hold_slab",
        "allot_slab",
        "dispose_slab",
        "log_moisture",
        "log_air",
        "keep_yard",
        "keep_people",
        "keep_commission",
    ),
    WORKER: ("record_slab", "move_slab", "log_moisture", "log_air"),
    BUYER: ("record_slab", "see_cost", "price_slab", "keep_parcels", "dispose_slab"),
}


@transaction.atomic
def sync_groups(**kwargs: Any) -> None:
    """Make the three groups hold exactly what the table says."""
    from django.apps import apps
    from django.contrib.auth.management import create_permissions

    for label in ("inventory", "catalogue"):
        create_permissions(apps.get_app_config(label), verbosity=0)
    for role, codenames in ROLES.items():
        group, _ = Group.objects.get_or_create(name=role)
        group.permissions.set(Permission.objects.filter(codename__in=codenames))
