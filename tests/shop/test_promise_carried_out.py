"""A yes is carried out: what the promise plans is poured, bagged and shipped through the services, and the
ledger never has to find anything that was not there."""

import math
from collections import defaultdict

import pytest
from django.utils import timezone
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

import inventory.audit
import production.audit
import shop.audit
from inventory.models import Item, Lot, Movement
from inventory.services import holding
from production import promise
from production.models import Bait, Mold, Pattern, Product, RecipeVersion
from production.services import bagging, bait_lots, batches, shots
from shop import promises
from shop.services import shipping
from tests import factories
from tests.factories import key, micro
from tests.shop.promising import Shelf

#: What rounding to millionths may leave to be found of a batch, in millionths.
DUST = 100


class Evenings:
    """The plan of an answer, poured evening by evening and bagged."""

    def __init__(self, answer: promises.Answer) -> None:
        self.answer, self.shelf = answer, answer.facts.shelf
        self.plan: promise.Plan = answer.promise.plan
        self.base: dict[str, float] = defaultdict(float)
        for batch in self.plan.batches:
            self.base[batch.recipe] += batch.base_ml
        self.good: dict[tuple[str, str], float] = defaultdict(float)
        self.given: dict[tuple[str, str], int] = defaultdict(int)

    def carry_out(self) -> None:
        for on in sorted({batch.on for batch in self.plan.batches}):
            pour = factories.make_pour(on)
            mixed = {
                batch.recipe: self.mix(pour, batch) for batch in self.plan.batches if batch.on == on
            }
            for each in self.plan.shots:
                if each.on == on:
                    self.shoot(pour, each, mixed)
            pour.closed_at = timezone.now()
            pour.save()
        for line in self.answer.promise.lines:
            if made := line.after_bagging + line.after_pouring:
                product = Product.objects.get(pk=int(line.product[1:]))
                bagging.bag(key=key(), product=product, bags=made, by=None)

    def mix(self, pour, batch: promise.Batches):
        """One batch, with its part of the leftovers and stand-ins that go into its color."""
        recipe = self.shelf.recipes[batch.recipe]
        part = batch.base_ml / self.base[batch.recipe]
        fresh, added = batch.base_ml, {k: d * batch.base_ml for k, d in recipe.doses.items()}
        parts = []
        for (jar, into), ml in self.plan.leftovers.items():
            if into == batch.recipe:
                lot = Lot.objects.select_related("item").get(pk=int(jar[1:]))
                parts.append(batches.Part(lot.item, math.floor(ml * part * 1e6), lot=lot))
                fresh -= ml * part
                for dose, held in self.shelf.leftovers[jar].doses.items():
                    added[dose] = added.get(dose, 0.0) - held * ml * part
        for one in self.plan.stand_ins:
            if one.recipe == batch.recipe:
                added[one.instead_of] -= one.amount * part
                added[one.item] = added.get(one.item, 0.0) + one.amount * part
        for item, amount in {recipe.grade: fresh, **added}.items():
            if (quantity := math.floor(amount * 1e6)) > 0:
                parts.append(batches.Part(Item.objects.get(pk=int(item)), quantity))
        version = RecipeVersion.objects.get(pk=int(batch.recipe[1:]))
        return batches.mix(key=key(), pour=pour, version=version, parts=parts, by=None).batch

    def shoot(self, pour, each: promise.Shots, mixed) -> None:
        """So many good baits as the yield lets one expect, whole ones."""
        mold = Mold.objects.get(pk=int(each.mold[1:]))
        pattern = Pattern.objects.get(pk=int(each.pattern[1:]))
        results = []
        for bait, cavities in self.shelf.molds[each.mold].cavities.items():
            kind = bait, each.pattern
            self.good[kind] += cavities * self.shelf.molds[each.mold].good[bait] * each.count
            good = math.floor(self.good[kind] + 1e-6) - self.given[kind]
            self.given[kind] += good
            results.append(shots.Result(Bait.objects.get(pk=int(bait[1:])), good))
        layers = pattern.layers.order_by("position")
        shots.shoot(
            key=key(),
            pour=pour,
            mold=mold,
            pattern=pattern,
            batches=[mixed[f"r{layer.version_id}"] for layer in layers],
            count=each.count,
            results=results,
            by=None,
        )


def _clean() -> None:
    found = Movement.objects.filter(role=Movement.Role.FOUND)
    assert all(abs(line.quantity) <= DUST for line in found)
    audits = [inventory.audit, production.audit, shop.audit]
    assert [finding for audit in audits for finding in audit.findings()] == []


@pytest.mark.filterwarnings("ignore::hypothesis.errors.HypothesisWarning")
class TestCarriedOut(TestCase):
    @settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        base=st.integers(0, 700),
        moss=st.integers(0, 12),
        minutes=st.integers(20, 90),
        jar=st.sampled_from([("", 0), ("Pale", 60), ("Deep", 60), ("Pale", 200)]),
        lying=st.tuples(*[st.integers(0, 12)] * 4),
        wanted=st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(0, 6)),
        days=st.integers(1, 3),
    )
    def test_what_is_promised_is_poured_bagged_and_shipped(
        self, base, moss, minutes, jar, lying, wanted, days
    ):
        shelf = Shelf(base=base, moss=moss, minutes=minutes)
        versions = [RecipeVersion.objects.get(recipe__name=name) for name in ("Pale", "Deep")]
        factories.make_laminate("Two", versions, [600_000, 400_000])
        products = [shelf.pale, shelf.deep, shelf.product("Two")]
        if jar[1]:
            shelf.jar(*jar)
        loose, bagged, other, pouches = lying
        if loose:
            item = bait_lots.loose_item(shelf.bait, Pattern.objects.get(name="Pale"))
            factories.make_lot(item, loose, 5)
        if bagged:
            factories.make_lot(shelf.pale.item, bagged, 5)
            holding.reserve_up_to("order:999999", shelf.pale.item, micro(other // 2))
        self._few_pouches(shelf, 4 + 3 * pouches)
        lines = [(p, n) for p, n in zip(products, wanted, strict=True) if n]
        if not lines:
            return
        order = shelf.order(*lines, days=days)
        answer = shelf.ask(order, seconds=2)
        promised = {line.product: line.promised for line in answer.promise.lines if line.promised}
        event(f"whole: {answer.promise.whole}")
        Evenings(answer).carry_out()
        packed = [
            shipping.Packed(line, promised[f"x{line.product_id}"])
            for line in order.lines.select_related("product__item")
            if f"x{line.product_id}" in promised
        ]
        if packed:
            shipping.ship(key=key(), order=order, packed=packed, by=None)
            sent = {f"x{line.product_id}": line.shipped for line in order.lines.all()}
            assert {product: n for product, n in sent.items() if n} == promised
        holding.release("order:999999")
        _clean()

    def _few_pouches(self, shelf, count: int) -> None:
        lot = shelf.pouch.lots.get()
        if lot.available > micro(count):
            holding.reserve("trial:1", shelf.pouch, lot.available - micro(count))
