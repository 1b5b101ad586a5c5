"""Where a bag came from and whom a bottle reached: traced, drawn, held back."""

import csv
import io
from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from inventory import lineage, lineage_layout, recall
from inventory.models import Entry, Lot, LotHold, Movement, Place
from inventory.services import holding, on_hold
from inventory.services.posting import LedgerError
from production.models import Heat, Product, ProductContent
from production.services import bagging, batches, shots
from shop.models import Customer
from shop.services import orders, shipping
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


class Bench:
    """Eleven batches, each with 40 mL of the one before, then a laminate of the last two, bagged."""

    def __init__(self, length=11) -> None:
        self.base, self.dye = factories.make_plastisol(), factories.make_item(name="Plum dye")
        self.base_lot = factories.make_lot(self.base, 5000, 200)
        self.dye_lot = factories.make_lot(self.dye, 400, 80)
        self.pour, self.mold = factories.make_pour(), factories.make_mold()
        self.bait = self.mold.cavities.get().bait
        self.made = []
        for number in range(length):
            version = factories.make_recipe(
                f"Plum {number + 1}", grade=self.base, doses={self.dye: number + 1}
            )
            parts = [
                batches.Part(self.base, micro(160), self.base_lot),
                batches.Part(self.dye, micro(2), self.dye_lot),
            ]
            if self.made:
                before = Lot.objects.select_related("item").get(pk=self.made[-1].lot_id)
                parts.append(batches.Part(before.item, micro(40), before))
            entry = batches.mix(key=key(), pour=self.pour, version=version, parts=parts, by=None)
            self.made.append(entry.batch)
        last = self.made[-2:]
        self.laminate = factories.make_laminate(
            "Plum over Plum", [batch.version for batch in last], [600_000, 400_000]
        )
        self.logged = shots.shoot(
            key=key(),
            pour=self.pour,
            mold=self.mold,
            pattern=self.laminate,
            batches=last,
            count=3,
            results=[shots.Result(self.bait, 12)],
            by=None,
        ).shots
        item = factories.make_item("bagged product", "Plum eel, 4", "each")
        self.product = Product.objects.create(item=item, price_minor=695)
        ProductContent.objects.create(
            product=self.product, bait=self.bait, pattern=self.laminate, count=4
        )
        self.bags = bagging.bag(key=key(), product=self.product, bags=3, by=None).bagging.lot


@pytest.fixture
def bench(shop):
    return Bench()


@pytest.fixture
def shipped(bench):
    customer = Customer.objects.create(name="Hollis Marsh", email="hollis@example.com")
    order = orders.take(customer=customer, lines=[orders.Wanted(bench.product, 2)])
    shipping.ship(key=key(), order=order, by=None)
    return order


def by_brute_force(lot: Lot, *, forward: bool) -> set[int]:
    """Walks over every standing movement of the ledger, again and again, until nothing is added."""
    undone = set(Entry.objects.exclude(reverses=None).values_list("reverses", flat=True))
    entries: dict[int, dict[str, set[int]]] = {}
    for entry, kind, role, pk in Movement.objects.values_list(
        "entry", "entry__kind", "role", "lot"
    ):
        if entry not in undone and kind != "reversal":
            entries.setdefault(entry, {"made": set(), "drawn": set()}).setdefault(role, set()).add(
                pk
            )
    reached, before = {lot.pk}, set()
    here, there = ("drawn", "made") if forward else ("made", "drawn")
    while reached != before:
        before = set(reached)
        for sides in entries.values():
            if sides[here] & reached:
                reached |= sides[there]
    return reached - {lot.pk}


def test_a_bag_is_traced_through_ten_leftovers_and_a_laminate(bench):
    family = lineage.family(bench.bags)
    assert set(family.back) == by_brute_force(bench.bags, forward=False)
    assert {bench.base_lot.pk, bench.dye_lot.pk, bench.made[0].lot_id} <= set(family.back)
    assert not family.forward


def test_a_bottle_is_traced_to_every_batch_bait_and_bag(bench):
    family = lineage.family(bench.dye_lot)
    assert set(family.forward) == by_brute_force(bench.dye_lot, forward=True)
    assert {bench.bags.pk, *(batch.lot_id for batch in bench.made)} <= set(family.forward)
    middle = lineage.family(bench.made[5].lot)
    assert set(middle.back) == by_brute_force(bench.made[5].lot, forward=False)
    assert set(middle.forward) == by_brute_force(bench.made[5].lot, forward=True)


def test_what_was_undone_is_no_kin(bench):
    from inventory.services.ledger import reverse as undo
    from inventory.services.posting import Key

    undo(Key(key(), ""), bench.bags.bagging.entry, by=None)
    assert bench.bags.pk not in lineage.family(bench.dye_lot).forward
    assert not lineage.family(bench.bags).back


def test_every_line_of_the_picture_runs_down(bench):
    family = lineage.family(bench.made[5].lot)
    laid = lineage_layout.lay_out(family.lot.pk, family.edges, family.back, family.forward)
    row = {pk: number for number, pks in enumerate(laid.rows) for pk in pks}
    assert laid.rows[laid.middle] == (family.lot.pk,)
    assert set(row) == {family.lot.pk, *family.back, *family.forward}
    assert laid.edges and all(row[a] < row[b] for a, b in laid.edges)


@given(
    st.lists(st.tuples(st.integers(1, 12), st.integers(1, 12)), max_size=30),
    st.integers(1, 4),
)
def test_a_family_is_laid_out_whatever_its_lines(pairs, most):
    edges = {pair for pair in pairs if pair[0] != pair[1]}

    def walk(ways) -> list[int]:
        seen, order = {0}, []
        generation = [0]
        while generation:
            generation = sorted({b for a, b in ways if a in generation} - seen)
            seen |= set(generation)
            order += generation
        return order

    edges |= {(0, 1), (2, 0)}
    forward = walk(edges)
    back = walk({(b, a) for a, b in edges})
    laid = lineage_layout.lay_out(0, edges, back, forward, most=most)
    shown = [pk for row in laid.rows for pk in row]
    assert len(shown) == len(set(shown))
    assert len(shown) + sum(laid.left_out) == len({0, *back, *forward})
    row = {pk: number for number, pks in enumerate(laid.rows) for pk in pks}
    assert all(row[a] < row[b] for a, b in laid.edges)


def test_the_family_page_draws_and_names_all_with_heats(owner_client, bench, shipped):
    Heat.objects.create(
        batch=bench.made[0],
        key=key(),
        started_at=factories.timezone.now(),
        minutes=4,
        peak_c=Decimal(171),
    )
    page = owner_client.get(reverse("inventory:family", args=[bench.bags.pk])).content.decode()
    assert page.count('<rect class="family-box') == 15
    assert "warmed once, up to 171 °C" in page
    assert "Hollis Marsh" in page
    assert reverse("inventory:family", args=[bench.dye_lot.pk]) in page


def test_the_family_comes_as_csv_and_pdf(owner_client, bench, shipped):
    answer = owner_client.get(reverse("inventory:family_csv", args=[bench.dye_lot.pk]))
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert {row["lot"] for row in rows if row["direction"] == "went into"} == {
        lot.number for lot in lineage.trace_forward(bench.dye_lot)
    }
    [left] = [row for row in rows if row["direction"] == "left the house"]
    assert (left["lot"], left["quantity that left"]) == (bench.bags.number, "2")
    assert left["reached"].startswith("Hollis Marsh")
    answer = owner_client.get(reverse("inventory:family_pdf", args=[bench.bags.pk]))
    text = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.content)).pages)
    assert bench.dye_lot.number in text
    assert "Hollis Marsh" in text


def test_a_recall_says_what_is_here_and_who_got_how_many(owner_client, bench, shipped):
    found = recall.of(lineage.family(bench.dye_lot, back=False))
    assert {lot.pk for lot in found.here} >= {bench.dye_lot.pk, bench.bags.pk}
    [receiver] = found.receivers
    assert (receiver.name, receiver.quantity) == ("Hollis Marsh", micro(2))
    page = owner_client.get(reverse("inventory:recall", args=[bench.dye_lot.pk])).content.decode()
    assert "hollis@example.com" in page
    assert bench.bags.number in recall.message(found, "Lantern Cove Baits")
    answer = owner_client.get(reverse("inventory:recall_pdf", args=[bench.dye_lot.pk]))
    text = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.content)).pages)
    assert "Hollis Marsh hollis@example.com" in text


def test_one_button_holds_back_all_that_is_here(owner_client, bench):
    url = reverse("inventory:recall", args=[bench.dye_lot.pk])
    answer = owner_client.post(url, {"reason": " "})
    assert answer.status_code == 422
    assert "Say why" in answer.content.decode()
    assert owner_client.post(url, {"reason": "wrong pigment in the bottle"}).url == url
    here = {bench.dye_lot.pk, *(lot.pk for lot in lineage.trace_forward(bench.dye_lot))}
    held = set(Lot.objects.filter(held=True).values_list("pk", flat=True))
    assert held == set(Lot.objects.filter(pk__in=here, on_hand__gt=0).values_list("pk", flat=True))
    assert set(LotHold.objects.values_list("reason", flat=True)) == {"wrong pigment in the bottle"}
    assert "All of it is on hold" in owner_client.get(url).content.decode()
    page = owner_client.get(reverse("inventory:on_hold")).content.decode()
    assert bench.bags.number in page


def test_held_bags_are_neither_reserved_nor_shipped(bench):
    customer = Customer.objects.create(name="Hollis Marsh")
    order = orders.take(customer=customer, lines=[orders.Wanted(bench.product, 2)])
    holding.reserve(f"order:{order.pk}", bench.product.item, micro(2))
    on_hold.hold([bench.bags], reason="smells wrong", by=None)
    order.refresh_from_db()
    assert order.look_at, "whoever had reserved them is told"
    assert not holding.of(f"order:{order.pk}").exists()
    with pytest.raises(LedgerError):
        holding.reserve(f"order:{order.pk}", bench.product.item, micro(1))
    with pytest.raises(LedgerError):
        shipping.ship(key=key(), order=order, by=None)
    on_hold.let_go([bench.bags], by=None)
    shipping.ship(key=key(), order=order, by=None)


def test_held_baits_are_not_bagged(bench):
    logged = shots.shoot(
        key=key(),
        pour=bench.pour,
        mold=bench.mold,
        pattern=bench.laminate,
        batches=bench.made[-2:],
        count=1,
        results=[shots.Result(bench.bait, 4)],
        by=None,
    ).shots
    on_hold.hold([logged.results.get().good_lot], reason="air in every tail", by=None)
    with pytest.raises(LedgerError, match="4 wanted, 0 loose"):
        bagging.bag(key=key(), product=bench.product, bags=1, by=None)


def test_the_bench_passes_over_a_held_bottle_but_is_never_refused(bench):
    other = factories.make_lot(bench.dye, 50, 10)
    on_hold.hold([bench.dye_lot], reason="wrong pigment", by=None)
    base = batches.Part(bench.base, micro(100))
    version = bench.made[0].version
    parts = [base, batches.Part(bench.dye, micro(2))]
    batches.mix(key=key(), pour=bench.pour, version=version, parts=parts, by=None)
    other.refresh_from_db()
    assert other.on_hand == micro(48)
    parts = [base, batches.Part(bench.dye, micro(2), bench.dye_lot)]
    batches.mix(key=key(), pour=bench.pour, version=version, parts=parts, by=None)


def test_a_hold_is_kept_with_who_ended_it(owner_client, bench):
    url = reverse("inventory:hold", args=[bench.bags.pk])
    assert owner_client.post(url, {"reason": "count again"}).status_code == 302
    assert (
        "count again"
        in owner_client.get(reverse("inventory:lot", args=[bench.bags.pk])).content.decode()
    )
    owner_client.post(reverse("inventory:let_go", args=[bench.bags.pk]))
    hold = LotHold.objects.get()
    assert hold.released_at and hold.released_by == hold.by


def test_bags_sold_at_a_stall_are_named_in_the_recall(bench):
    from inventory.services import ledger
    from inventory.services.posting import Key

    place = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
    event = ledger.Event(
        Entry.Kind.GIFT, f"Given away at {place}", draws=[ledger.Draw(bench.bags, micro(1))]
    )
    ledger.post(Key(key(), ""), event, by=None)
    found = recall.of(lineage.family(bench.bags, back=False))
    assert [receiver.name for receiver in found.receivers] == ["Given away at Harbor market"]


def test_the_family_asks_the_database_as_often_for_long_chains(
    owner_client, shop, django_assert_max_num_queries
):
    """A fixed number for each generation, whatever it holds."""
    bench = Bench(length=3)
    for _ in range(6):
        factories.make_lot(bench.base, 100, 5)
    # three batches deep, baits, bags: five generations of two queries each way, and the rest
    with django_assert_max_num_queries(40):
        owner_client.get(reverse("inventory:family", args=[bench.bags.pk]))
