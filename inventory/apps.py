from django.apps import AppConfig
from django.urls import reverse


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        from inventory import references, signals
        from inventory.services import purchasing

        references.register("purchase", lambda pk: reverse("inventory:purchase", args=[pk]))
        signals.undone.connect(purchasing.after_undo, dispatch_uid="purchases")
