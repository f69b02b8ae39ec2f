from django.apps import AppConfig
from django.db.models.signals import post_migrate


class CatalogueConfig(AppConfig):
    name = "catalogue"
    verbose_name = "Catalogue"

    def ready(self) -> None:
        from catalogue import roles, system_checks  # noqa: F401  (registers the checks)

        post_migrate.connect(roles.sync_groups, sender=self)
