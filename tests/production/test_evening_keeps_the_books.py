"""Whatever happens in an evening, the books are right; and undone backwards, it never happened."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

import inventory.audit
import production.audit
from inventory.models import Entry, Lot
from inventory.services import counts, thinning
from inventory.services.posting import LedgerError
from production.models import Batch, Product, ProductContent, ProductPackaging, ShotResult
from production.services import bagging, batches, next_color, shots, sorting
from tests import factories
from tests.factories import key, micro


def audited() -> list[str]:
    return [*inventory.audit.findings(), *production.audit.findings()]


def shelf() -> dict[str, tuple]:
    return {
        lot.number: (lot.on_hand, lot.made, lot.cost)
        for lot in Lot.objects.exclude(made=0, on_hand=0)
    }


class Evening:
    """One shelf and the things a person does to it, each by a number that chooses how."""

    def __init__(self) -> None:
        self.pour = factories.make_pour()
        self.base = factories.make_plastisol()
        self.dye = factories.make_item("colorant", "Plum dye", color="#5a2a6a")
        self.oil = factories.make_item("additive", "Worm oil")
        self.flake = factories.make_flake()
        self.bag = factories.make_item("packaging", "Bag", "each")
        for item, quantity, cost in (
            (self.base, 900, "31.07"),
            (self.dye, 30, "9.99"),
            (self.oil, 90, "4.10"),
        ):
            factories.make_lot(item, quantity, cost)
        factories.make_lot(self.flake, 20, None)
        factories.make_lot(self.bag, 4, "0.61")
        self.mold = factories.make_mold()
        self.hook = factories.make_item("part", "Keel hook", "each")
        factories.make_lot(self.hook, 5, "1.07")
        bait = factories.make_bait("Keel Minnow")
        self.hooked = factories.make_mold("Keel Minnow pair", bait=bait, cavities=2, shot_ml=13)
        self.hooked.cavities.update(part=self.hook, parts_each=2)
        doses = {self.dye: 1.3, self.flake: 0.7}
        self.version = factories.make_recipe(grade=self.base, doses=doses)
        self.other = factories.make_recipe("Fog Bell", grade=self.base, doses={self.dye: 0.2})
        self.pattern = self.version.layers.get().pattern
        self.laminate = factories.make_laminate(
            "Fog over Lantern", [self.version, self.other], [600_000, 400_000]
        )
        bait = self.mold.cavities.get().bait
        item = factories.make_item("bagged product", "Reed Eel, Marsh Lantern, 3", "each")
        self.product = Product.objects.create(item=item, price_minor=450)
        ProductContent.objects.create(
            product=self.product, bait=bait, pattern=self.pattern, count=3
        )
        ProductPackaging.objects.create(product=self.product, item=self.bag, quantity=micro(1))

    def receive(self, n: int) -> None:
        factories.make_lot([self.base, self.dye, self.flake, self.bag][n % 4], 1 + n, n / 7)

    def mix(self, n: int) -> None:
        parts = [
            batches.Part(self.base, micro(20 + n)),
            batches.Part(self.dye, micro(n / 8 + 0.1)),
        ]
        if n % 3 == 0:
            parts.append(batches.Part(self.flake, micro(0.333333), said="a pinch", estimated=True))
        leftovers = Lot.objects.in_stock().filter(item__kind="leftover")
        if n % 2 and leftovers:
            lot = leftovers[n % len(leftovers)]
            parts.append(batches.Part(lot.item, 1 + lot.on_hand * (n % 5) // 4, lot=lot))
        version = self.version if n % 5 else self.other
        batches.mix(key=key(), pour=self.pour, version=version, parts=parts, by=None)

    def add(self, n: int) -> None:
        made = list(Batch.objects.filter(entry__reversed_by=None).order_by("-pk"))
        if not made:
            return
        batch, item = made[n % len(made)], [self.dye, self.base, self.flake][n % 3]
        part = batches.Part(item, micro(n) // 7)
        leftovers = Lot.objects.in_stock().filter(item__kind="leftover").exclude(pk=batch.lot_id)
        if n % 4 == 3 and leftovers:
            lot = leftovers[n % len(leftovers)]
            part = batches.Part(lot.item, 1 + lot.on_hand * (n % 5) // 4, lot=lot)
        try:
            batches.add(key=key(), batch=batch, parts=[part], by=None)
        except batches.AlreadyUsed as refusal:
            assert "next color" in str(refusal)

    def go_on(self, n: int) -> None:
        source = Batch.objects.filter(entry__reversed_by=None, lot__on_hand__gt=0).last()
        if source is None:
            return
        measured = None if n % 3 == 0 else 1 + source.lot.on_hand * (n % 5) // 4
        use = source.lot.on_hand if measured is None else measured
        rest = batches.Part(source.lot.item, use, source.lot)
        next_color.go_on(
            key=key(),
            source=source,
            measured=measured,
            pour=self.pour,
            version=self.other if n % 2 else None,
            parts=[rest, batches.Part(self.dye, micro(n) // 50)],
            by=None,
        )

    def shoot(self, n: int) -> None:
        made = list(Batch.objects.filter(entry__reversed_by=None).order_by("-pk"))
        if not made:
            return
        laminate = n % 3 == 1 and len(made) > 1
        bait = self.mold.cavities.get().bait
        good = (n * 3) % (4 * (1 + n % 3) + 1)
        shots.shoot(
            key=key(),
            pour=self.pour,
            mold=self.mold,
            pattern=self.laminate if laminate else self.pattern,
            batches=made[:2] if laminate else made[:1],
            count=1 + n % 3,
            results=[shots.Result(bait, good, seconds=n % 2)],
            keep_trim=n % 4 != 0,
            by=None,
        )

    def shoot_hooked(self, n: int) -> None:
        made = Batch.objects.filter(entry__reversed_by=None).order_by("-pk").first()
        if made:
            good = n % 3
            shots.shoot(
                key=key(),
                pour=self.pour,
                mold=self.hooked,
                pattern=self.pattern,
                batches=[made],
                count=1,
                results=[shots.Result(self.hooked.cavities.get().bait, good, seconds=n % 2)],
                keep_trim=n % 4 != 0,
                by=None,
            )

    def sort_out(self, n: int) -> None:
        rows = ShotResult.objects.filter(shots__entry__reversed_by=None, good__gt=0)
        rows = rows.order_by("pk").select_related("shots", "bait")
        if not rows:
            return
        row = rows[n % len(rows)]
        fate, reason = [("reject", "air"), ("second", ""), ("reject", "")][n % 3]
        try:
            sorting.sort_out(
                key=key(),
                shots=row.shots,
                bait=row.bait,
                fate=fate,
                reason=reason,
                count=1 + n % 2,
                by=None,
            )
        except LedgerError as refusal:
            assert "can't be sorted out" in str(refusal) or "short" in str(refusal)

    def bag_up(self, n: int) -> None:
        try:
            bagging.bag(key=key(), product=self.product, bags=1 + n % 3, by=None)
        except LedgerError as refusal:
            assert "Not enough loose baits" in str(refusal)

    def count(self, n: int) -> None:
        lots = Lot.objects.order_by("pk")
        lot = lots[n % len(lots)]
        counts.count(key=key(), lot=lot, counted=micro(n) // 3, by=None)

    def waste(self, n: int) -> None:
        lots = Lot.objects.in_stock().order_by("pk")
        if lots:
            lot = lots[n % len(lots)]
            quantity = 1 + (lot.on_hand - 1) * (n % 4) // 3
            counts.waste(key=key(), lot=lot, quantity=quantity, reason="spilled", by=None)

    def thin(self, n: int) -> None:
        bottles = Lot.objects.in_stock().filter(item=self.dye).order_by("pk")
        oil = Lot.objects.filter(item=self.oil).first()
        if not bottles:
            return
        lot = bottles[n % len(bottles)]
        try:
            thinning.thin(
                key=key(),
                lot=lot,
                quantity=1 + (lot.on_hand - 1) * (n % 4) // 3,
                oil_lot=oil,
                oil_quantity=1 + n * 777_777,
                by=None,
            )
        except LedgerError as refusal:
            assert "short" in str(refusal) or "too thin" in str(refusal)


DEEDS = ["receive", "mix", "mix", "add", "add", "go_on", "shoot", "shoot"]
DEEDS += ["shoot_hooked", "sort_out", "sort_out", "bag_up", "count", "waste", "thin", "thin"]
EVENINGS = st.lists(st.tuples(st.sampled_from(DEEDS), st.integers(0, 40)), min_size=3, max_size=14)


@pytest.mark.filterwarnings("ignore::hypothesis.errors.HypothesisWarning")
class TestEvening(TestCase):
    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(EVENINGS)
    def test_any_evening_keeps_the_books_and_undone_backwards_it_never_happened(self, deeds):
        evening = Evening()
        start, first = shelf(), Entry.objects.latest("id").pk
        for deed, number in deeds:
            getattr(evening, deed)(number)
        assert audited() == []
        for entry in Entry.objects.filter(pk__gt=first):
            counts.undo(key=key(), entry=entry, by=None)
        assert audited() == []
        assert shelf() == start

    @settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
    @given(EVENINGS, st.integers(0, 5))
    def test_undoing_what_may_be_undone_in_any_order_keeps_the_books(self, deeds, skip):
        evening = Evening()
        for deed, number in deeds:
            getattr(evening, deed)(number)
        for entry in list(Entry.objects.all())[skip::2]:
            try:
                counts.undo(key=key(), entry=entry, by=None)
            except LedgerError as refusal:
                assert str(refusal)
        for deed, number in deeds[:4]:
            getattr(evening, deed)(number + 1)
        assert audited() == []
