from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Inventory"

    def ready(self) -> None:
        from inventory.forms.sentences import speak_plainly

        speak_plainly()
