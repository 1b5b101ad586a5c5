from django.apps import AppConfig
from django.urls import reverse


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from inventory import references
        from shop import rendering

        rendering.say_what_is_missing()
        references.register("order", lambda pk: reverse("order", args=[pk]))
