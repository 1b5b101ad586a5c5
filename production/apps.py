from django.apps import AppConfig
from django.urls import reverse


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        from inventory import lineage, needs, references, servicing, signals, usages
        from production import lineage_facts, planned_needs, wear
        from production.services import batches
        from production.usages import of_item

        for kind in ("pour", "bagging"):
            references.register(
                kind, lambda pk, kind=kind: reverse(f"production:{kind}", args=[pk])
            )
        references.register("leftover", lambda pk: reverse("production:leftover_next", args=[pk]))
        usages.register(of_item)
        lineage.register(teller=lineage_facts.told)
        needs.register(planned_needs.planned)
        servicing.register(wear.due)
        signals.undone.connect(batches.after_undo, dispatch_uid="batches")
