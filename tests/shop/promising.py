"""A small shop to promise from, whose figures are easy by hand."""

import datetime
from decimal import Decimal

from django.utils import timezone

from inventory import units
from inventory.models import Item
from production.models import (
    Bench,
    Pattern,
    Product,
    ProductContent,
    ProductPackaging,
    RecipeVersion,
)
from production.services import batches, leftovers
from shop import promises
from shop.models import Customer
from shop.services import orders
from tests import factories
from tests.factories import key, micro

#: Good of a mold that was never shot: the lower quartile of Beta(9, 1), .25 ** (1/9).
GOOD = 0.25 ** (1 / 9)


class Shelf:
    """A mold of four baits at 26 mL a shot and 6 minutes a cycle; every evening 60 minutes, of which a
    batch takes 12 and a shot 1; nothing stays in the cup, which holds 4 L.

    Pale holds 1 mL of moss in 100 mL of base, Deep 4 mL. A bag holds three baits."""

    def __init__(self, *, base=4000, moss=100, minutes=60, weekdays="1234567") -> None:
        self.bench = Bench.objects.create(
            pk=1,
            evening_minutes=minutes,
            heel_ml=0,
            pour_weekdays=weekdays,
            cure_hours=24,
            hand_minutes=Decimal(1),
        )
        self.base = factories.make_plastisol(melt_limit=4)
        self.moss = factories.make_item(name="Moss tint", color="#2f6b3a")
        self.base_lot = factories.make_lot(self.base, base, 200) if base else None
        self.moss_lot = factories.make_lot(self.moss, moss, 20) if moss else None
        factories.make_cup(1, 4000)
        self.mold = factories.make_mold()
        self.bait = self.mold.cavities.get().bait
        factories.make_recipe("Pale", grade=self.base, doses={self.moss: 1})
        factories.make_recipe("Deep", grade=self.base, doses={self.moss: 4})
        self.pouch = factories.make_item(Item.Kind.PACKAGING, "Pouch", "each")
        factories.make_lot(self.pouch, 1000, 50)
        self.pale, self.deep = self.product("Pale"), self.product("Deep")

    def product(self, pattern: str, *, second: bool = False) -> Product:
        name = f"Reed Eel, {pattern}, 3" + (" (second)" if second else "")
        item = factories.make_item(Item.Kind.BAGGED, name, "each")
        product = Product.objects.create(item=item, price_minor=500, second=second)
        ProductContent.objects.create(
            product=product, bait=self.bait, pattern=Pattern.objects.get(name=pattern), count=3
        )
        ProductPackaging.objects.create(product=product, item=self.pouch, quantity=micro(1))
        return product

    def jar(self, name: str, base: int):
        """A puck of so many mL of base of a color, from an evening before, mixed of plastic of its own."""
        version = RecipeVersion.objects.get(recipe__name=name)
        pour = factories.make_pour(timezone.localdate() - datetime.timedelta(days=1))
        parts = [batches.Part(self.base, micro(base), lot=factories.make_lot(self.base, base, 10))]
        for dose in version.doses.all():
            amount = dose.quantity * base // 100
            lot = factories.make_lot(dose.item, units.from_micro(amount), 1)
            parts.append(batches.Part(dose.item, amount, lot=lot))
        batch = batches.mix(key=key(), pour=pour, version=version, parts=parts, by=None).batch
        leftovers.settle(key=key(), batch=batch, measured=micro(base), then="puck", by=None)
        pour.closed_at = pour.started_at
        pour.save()
        return batch.lot

    def order(self, *lines, days: int | None = 1, customer: str = "Juniper Vale", ago: int = 0):
        """An open order due in so many days, taken so many days ago."""
        today = timezone.localdate()
        return orders.take(
            customer=Customer.objects.get_or_create(name=customer)[0],
            lines=[orders.Wanted(product, bags) for product, bags in lines],
            due_on=None if days is None else today + datetime.timedelta(days=days),
            ordered_on=today - datetime.timedelta(days=ago),
        )

    def ask(self, order, **how) -> promises.Answer:
        how = {"quick": False, "seconds": 60} | how
        return promises.ask(promises.of_order(order), **how)


def bags(answer: promises.Answer) -> list[tuple[int, int, int, int]]:
    """(bagged, loose, to pour, short) of each line."""
    return [
        (line.ready, line.after_bagging, line.after_pouring, line.short)
        for line in answer.promise.lines
    ]
