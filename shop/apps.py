from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.urls import reverse


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        from shop import rendering

        # Before any form is made: its fields copy their words.
        rendering.say_what_is_missing()

        from inventory import lineage, needs, references, signals
        from production import wants
        from shop import buying_needs, destinations, middleware
        from shop.services import holds, shipped
        from shop.wants import of_orders

        user_logged_in.connect(middleware.note_use)
        needs.register(buying_needs.orders)
        references.register("order", lambda pk: reverse("order", args=[pk]))
        references.register("stall", lambda pk: reverse("stall_day", args=[pk]))
        references.register("consignee", lambda pk: reverse("consignee", args=[pk]))
        wants.register(of_orders)
        lineage.register(reacher=destinations.reached)
        signals.undone.connect(shipped.after_undo, dispatch_uid="shipped")
        signals.amended.connect(shipped.after_amend, dispatch_uid="shipped amended")
        signals.undone.connect(holds.after_undo, dispatch_uid="holds")
        signals.holds_lost.connect(holds.after_loss, dispatch_uid="holds lost")
