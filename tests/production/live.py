"""One small shop for the tests of a batch that goes on: a base, two colorants, a flake, one recipe."""

from decimal import Decimal

from django.urls import reverse

from production.models import Batch
from production.services import batches, shots
from tests import factories
from tests.factories import key, micro
from tests.production import bench_helpers


class Live:
    """The shelf, tonight's pour and a cup that takes 400 mL; doses are per 100 mL of base."""

    def __init__(self) -> None:
        self.base = factories.make_plastisol(
            heat_limit_c=Decimal(185), melt_limit=4, notes="Soft, for worms."
        )
        self.base_lot = factories.make_lot(self.base, 2000, 100)  # .05 a mL
        self.moss = factories.make_item(
            name="Moss tint", color="#2f6b3a", ml_per_drop=Decimal("0.05")
        )
        self.moss_lot = factories.make_lot(self.moss, 100, 20)  # .20 a mL
        self.soot = factories.make_item(name="Soot tint", color="#222222")
        self.soot_lot = factories.make_lot(self.soot, 50, 10)
        self.ember = factories.make_flake()
        self.ember_lot = factories.make_lot(self.ember, 100, 12)  # .12 a g
        self.recipe = factories.make_recipe("Moss Lantern", grade=self.base, doses={self.moss: 2})
        self.pour = factories.make_pour()
        self.cup = factories.make_cup()
        self.mold = factories.make_mold()  # 4 cavities of 5 mL, 26 mL a shot

    def part(self, item, amount, **facts) -> batches.Part:
        return batches.Part(item, micro(amount), **facts)

    def mix(self, base=100, moss=2, *, version="recipe", more=(), **facts) -> Batch:
        parts = [self.part(self.base, base)] if base else []
        parts += [self.part(self.moss, moss)] if moss else []
        entry = batches.mix(
            key=key(),
            pour=self.pour,
            version=self.recipe if version == "recipe" else version,
            parts=[*parts, *more],
            cup=self.cup,
            by=None,
            **facts,
        )
        return entry.batch

    def add(self, batch, item, amount, **facts):
        return batches.add(
            key=key(), batch=batch, parts=[self.part(item, amount, **facts)], by=None
        )

    def shoot(self, batch, count=1, good=4):
        bait = self.mold.cavities.get().bait
        return shots.shoot(
            key=key(),
            pour=self.pour,
            mold=self.mold,
            pattern=self.recipe.layers.get().pattern,
            batches=[batch],
            count=count,
            results=[shots.Result(bait, good)],
            by=None,
        ).shots


def url(name: str, batch: Batch, **more) -> str:
    kwargs = {"pk": batch.pour_id, "batch": batch.pk, **more}
    return reverse(f"production:{name}", kwargs=kwargs)


def send(client, address: str, **changes):
    """Opens a page with one form, overwrites what `changes` names, and sends it."""
    page = client.get(address)
    assert page.status_code == 200, bench_helpers.text_of(page)
    return client.post(address, bench_helpers.filled_in(page.context["form"]) | changes)


def fresh(thing):
    """The row as it is in the database now."""
    return type(thing).objects.get(pk=thing.pk)


def audited() -> list[str]:
    import inventory.audit
    import production.audit

    return [*inventory.audit.findings(), *production.audit.findings()]
