"""How long the buying list takes for 500 items with ten years of ledger, as a ratio to a plain baseline.

Run with `pytest tests/bench/test_buying_list_speed.py -s`. ITEMS and YEARS in the environment set other
sizes. A hundred items are used on each day, more than any workshop does, from a new bottle each quarter;
a tenth of the items is low. The baseline is one pass of Python over the lines of the last year: reading
them and adding them up by item and day, the least that any such list has to do without keeping sums.
"""

import os
import random
import time
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import buying_list, usage
from inventory.models import Entry, Item, Lot, Movement, Pack, PackBreak, Supplier

ITEMS = int(os.environ.get("ITEMS", "500"))
DAYS = 365 * int(os.environ.get("YEARS", "10"))
#: Days that a bottle lasts.
QUARTER = 91
pytestmark = [pytest.mark.bench, pytest.mark.django_db]


def stock(today) -> None:
    """Items, packs of four suppliers, and years of entries, written straight into the tables."""
    pick = random.Random(300)
    sellers = Supplier.objects.bulk_create(
        Supplier(
            name=f"Supplier {n}",
            lead_time_days=4 + 3 * n,
            shipping_minor=900,
            free_shipping_minor=15000,
            order_minimum_minor=2000 * n,
        )
        for n in range(4)
    )
    items = Item.objects.bulk_create(
        Item(kind="colorant", name=f"Dusk {n}", stock_unit="mL") for n in range(ITEMS)
    )
    first = today - timedelta(days=DAYS)
    lots = Lot.objects.bulk_create(
        (
            Lot(
                item=item,
                number=f"R{n}-{start}",
                received_on=first + timedelta(days=start),
                on_hand=(20 if n % 10 == 0 else 400) * 1_000_000 * (start + QUARTER >= DAYS),
                made=1,
            )
            for start in range(0, DAYS, QUARTER)
            for n, item in enumerate(items)
        ),
        batch_size=5000,
    )
    packs = Pack.objects.bulk_create(
        Pack(
            item=item,
            supplier=seller,
            name=f"{size} mL",
            quantity=size * 1_000_000,
            price_minor=int(size * pick.uniform(5, 8)),
        )
        for item in items
        for seller in pick.sample(sellers, 2)
        for size in (60, 120)
    )
    PackBreak.objects.bulk_create(
        PackBreak(pack=pack, from_packs=6, price_minor=pack.price_minor * 9 // 10)
        for pack in packs[::3]
    )
    now = timezone.now()
    entries = Entry.objects.bulk_create(
        Entry(
            kind="waste",
            key=f"k{day}",
            digest="",
            title="used",
            happened_at=now - timedelta(days=DAYS - day),
            business_date=first + timedelta(days=day),
        )
        for day in range(DAYS)
    )
    Movement.objects.bulk_create(
        (
            Movement(entry=entry, lot=lot, role="drawn", quantity=-pick.randint(1, 12) * 1_000_000)
            for day, entry in enumerate(entries)
            for lot in lots[day // QUARTER * ITEMS : (day // QUARTER + 1) * ITEMS]
            if pick.random() < 0.2
        ),
        batch_size=5000,
    )


def timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def plain_pass(first) -> dict:
    sums: dict = {}
    lines = Movement.objects.filter(entry__business_date__gte=first)
    for item, day, quantity in lines.values_list("lot__item", "entry__business_date", "quantity"):
        sums[item, day] = sums.get((item, day), 0) - quantity
    return sums


def test_the_list_of_ten_years_is_no_dearer_than_a_few_plain_passes_over_one(owner_client):
    today = timezone.localdate()
    stock(today)
    first = today - timedelta(days=usage.DAYS)
    plain = min(timed(lambda: plain_pass(first)) for _ in range(5))
    cold = timed(lambda: buying_list.build(today))
    warm = min(timed(lambda: buying_list.build(today)) for _ in range(5))
    page = min(timed(lambda: owner_client.get(reverse("inventory:buying"))) for _ in range(3))
    with CaptureQueriesContext(connection) as taken:
        found = buying_list.build(today)
    rows = sum(len(basket.rows) for basket in found.baskets)
    print(
        f"\n{ITEMS} items, {Movement.objects.count()} lines: {1000 * warm:.0f} ms "
        f"({warm / plain:.1f} plain passes of {1000 * plain:.0f} ms), the whole page {1000 * page:.0f} ms, "
        f"the first time {1000 * cold:.0f} ms; {rows} rows, {len(taken)} queries, "
        f"proven: {found.proven}"
    )
    assert rows >= ITEMS // 10
    assert warm < 4 * plain
