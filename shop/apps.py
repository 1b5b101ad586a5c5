from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.urls import reverse


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from inventory import references
        from production import wants
        from shop import middleware, rendering
        from shop.wants import of_orders

        rendering.say_what_is_missing()
        user_logged_in.connect(middleware.note_use)
        references.register("order", lambda pk: reverse("order", args=[pk]))
        wants.register(of_orders)
