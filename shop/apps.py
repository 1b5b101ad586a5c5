from django.apps import AppConfig
from django.urls import reverse


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from inventory import references

        references.register("order", lambda pk: reverse("order", args=[pk]))
