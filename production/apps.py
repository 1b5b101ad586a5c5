from django.apps import AppConfig
from django.urls import reverse


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        from inventory import references, signals
        from production.services import batches

        for kind in ("pour", "bagging"):
            references.register(
                kind, lambda pk, kind=kind: reverse(f"production:{kind}", args=[pk])
            )
        signals.undone.connect(batches.after_undo, dispatch_uid="batches")
