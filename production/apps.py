from django.apps import AppConfig
from django.urls import reverse


class ProductionConfig(AppConfig):
    name = "production"

    def ready(self) -> None:
        from inventory import references

        for kind in ("pour", "bagging"):
            references.register(
                kind, lambda pk, kind=kind: reverse(f"production:{kind}", args=[pk])
            )
