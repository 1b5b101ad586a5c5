"""The shop's papers, read back as text: what stands on them, and that their sums are the page's."""

import io
import random
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import pypdf
import pypdfium2
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.db.models import prefetch_related_objects
from django.urls import reverse
from django.utils import timezone

from inventory import pdf
from inventory.models import Lot, Place
from inventory.services import files
from production.models import Product
from production.services import bagging
from shop import paper_pdf, papers, parcels, picking, queries
from shop.models import Customer, Invoice, Order, OrderLine, Payment
from shop.services import holds, invoices, orders, payments, returns, shipping
from shop.services.shipping import Packed
from tests import factories
from tests.factories import key
from tests.inventory.pictures import picture as draw_picture

pytestmark = pytest.mark.django_db


def _pages(data):
    return [
        " ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(data)).pages
    ]


def _text(drawn):
    return " ".join(_pages(paper_pdf.draw(drawn)))


def _whole(order):
    order = queries.orders().get(pk=order.pk)
    prefetch_related_objects([order], "lines__product__item", "payments")
    return order


def _invoice(order, shop=None, size="letter"):
    return papers.invoice(invoices.issue(order), _whole(order), shop=shop, size=size)


@pytest.fixture
def known_shop(shop):
    shop.address = "12 Slip Road\nAlder Slip, MN 55000"
    shop.email, shop.phone = "hello@cove.example", "555 0100"
    shop.invoice_note = "Payable within 14 days."
    shop.save()
    return shop


def test_an_invoice_says_who_bills_whom_for_what(known_shop, make_product, take_order):
    order = take_order((make_product("Reed Eel, five", price_minor=650), 3))
    order.customer.address = "4 Reed Lane\nOld Mill"
    order.customer.save()
    Order.objects.filter(pk=order.pk).update(discount_percent="10", shipping_minor=595)
    payments.record(key=key(), order=order, kind="deposit", amount_minor=500, how="cash", by=None)
    text = _text(_invoice(order, known_shop))
    year = timezone.localdate().year
    for words in (
        f"Invoice {year}-0001",
        "Lantern Cove Baits",
        "12 Slip Road",
        "hello@cove.example",
        "555 0100",
        "Juniper Vale 4 Reed Lane Old Mill",
        "Reed Eel, five 3 6.50 19.50",
        "Goods 19.50",
        "Less 10 % −1.95",
        "Shipping 5.95",
        "Total 23.50 USD",
        "cash −5.00",
        "Due 18.50 USD",
        "Payable within 14 days.",
        "Page 1 of 1",
    ):
        assert words in text, words
    # The remark on sales tax is for the owner, on the page.
    assert "tax" not in text.lower()


def test_a_lines_own_discount_has_a_column(known_shop, make_product, take_order):
    order = take_order((make_product("Reed Eel", price_minor=333), 7))
    order.lines.update(discount_percent=Decimal("12.5"))
    # 7 × 3.33 = 23.31, less an eighth = 20.39625
    assert "Reed Eel 7 3.33 12.5 % 20.40" in _text(_invoice(order, known_shop))


def test_what_fell_away_and_what_came_back_is_not_billed(known_shop, make_product, take_order):
    order = take_order((make_product("Reed Eel", bagged=9, price_minor=500), 9))
    line = order.lines.select_related("product__item").get()
    packed = [Packed(line, 6)]
    shipment = shipping.ship(key=key(), order=order, packed=packed, by=None).shipment
    shipping.close(order)
    drawn = shipment.entry.movements.get()
    returns.take_back(key=key(), shipment=shipment, bags={drawn.pk: 2}, fate="stock", by=None)
    text = _text(_invoice(order, known_shop))
    assert "Reed Eel (3 not coming, 2 came back) 4 5.00 20.00" in text
    assert "Due 20.00 USD" in text


def test_invoice_numbers_run_on_without_gaps_and_are_given_once(make_product, take_order):
    product = make_product()
    first, second = take_order((product, 1)), take_order((product, 2))
    cancelled = take_order((product, 3))
    orders.cancel(cancelled)
    year = timezone.localdate().year
    assert invoices.issue(first).number == f"{year}-0001"
    with pytest.raises(invoices.NoInvoice, match="was cancelled"):
        invoices.issue(cancelled)
    assert invoices.issue(second).number == f"{year}-0002"
    assert invoices.issue(first).number == f"{year}-0001"
    assert Invoice.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_two_people_billing_at_once_leave_no_gap(make_product, take_order):
    product = make_product()
    wanted = [take_order((product, 1)) for _ in range(6)]

    def issue(order):
        try:
            return invoices.issue(order).number
        finally:
            connection.close()

    with ThreadPoolExecutor(3) as people:
        numbers = sorted(people.map(issue, wanted))
    year = timezone.localdate().year
    assert numbers == [f"{year}-{n:04d}" for n in range(1, 7)]


def test_the_page_gives_the_number_and_opens_the_papers(owner_client, make_product, take_order):
    order = take_order((make_product(), 1))
    url = reverse("order", args=[order.pk])
    page = owner_client.get(url).content.decode()
    assert "Sales tax is not reckoned here" in page
    assert owner_client.get(reverse("invoice", args=[order.pk])).status_code == 404
    assert owner_client.get(reverse("receipt", args=[order.pk])).status_code == 404
    page = owner_client.post(reverse("invoice_issue", args=[order.pk]), follow=True)
    assert Invoice.objects.get().number in page.content.decode()
    payments.record(key=key(), order=order, kind="payment", amount_minor=100, by=None)
    for name in ("invoice", "receipt", "order_pick_list"):
        answer = owner_client.get(reverse(name, args=[order.pk]))
        assert answer.headers["Content-Type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF")


@pytest.mark.parametrize("name", ["invoice", "receipt", "invoice_issue"])
def test_papers_with_money_are_the_owners(helper_client, make_product, take_order, name):
    order = take_order((make_product(), 1))
    assert helper_client.post(reverse(name, args=[order.pk])).status_code == 403


def test_a_receipt_says_what_came_and_what_went_back(known_shop, make_product, take_order):
    order = take_order((make_product(price_minor=1000), 3))
    day = date(2026, 11, 2)
    record = payments.record
    record(key=key(), order=order, kind="deposit", amount_minor=1000, paid_on=day, by=None)
    record(key=key(), order=order, kind="payment", amount_minor=2500, how="card", by=None)
    record(key=key(), order=order, kind="refund", amount_minor=500, how="cash", by=None)
    text = _text(papers.receipt(_whole(order), shop=known_shop, size="letter"))
    assert "2026-11-02 Deposit 10.00" in text
    assert "Payment card 25.00" in text and "Refund cash −5.00" in text
    assert "The order comes to 30.00 USD" in text
    assert "Still due 0.00 USD" in text and "Received 30.00 USD" in text


def test_a_packing_slip_says_what_is_inside_and_what_is_to_come(
    known_shop, make_product, take_order
):
    first = make_product("Reed Eel", loose=10, bagged=3)
    bagging.bag(key=key(), product=first, bags=2, by=None)
    second = make_product("Brook Lizard")
    order = take_order((first, 4), (second, 2))
    line = order.lines.select_related("product__item").first()
    shipment = shipping.ship(
        key=key(),
        order=order,
        packed=[Packed(line, 4)],
        ship_to="Juniper Vale\n4 Reed Lane",
        carrier="Post",
        tracking="RX 12",
        weight_g=431,
        by=None,
    ).shipment
    [parcel] = parcels.of([parcels.shipments().get(pk=shipment.pk)])
    text = _text(papers.packing_slip(parcel, _whole(order), shop=known_shop, size="letter"))
    old, new = first.item.lots.order_by("pk")
    for words in (
        f"Packing slip, order {order.pk}",
        "To Juniper Vale 4 Reed Lane",
        "Carrier: Post",
        "Tracking number: RX 12",
        "Weight: 431 g (15.2 oz)",
        f"4 Reed Eel {old.number}: 3, {new.number}: 1",
        "Bags: 4",
        "Still to come Bags Product 2 Brook Lizard",
    ):
        assert words in text, words
    assert "6.50" not in text and "USD" not in text


@pytest.mark.parametrize(
    ("grams", "text"),
    [
        # 1 oz = 28.349523125 g exactly (NIST Handbook 44, Appendix C).
        (28, "28 g (1 oz)"),
        (431, "431 g (15.2 oz)"),
        (453, "453 g (1 lb 0 oz)"),
        (1250, "1,250 g (2 lb 12.1 oz)"),
        (None, ""),
    ],
)
def test_weights_are_told_both_ways(grams, text):
    assert parcels.weight_text(grams) == text


def test_a_pick_list_walks_from_place_to_place(known_shop, make_product, take_order):
    eel = make_product("Reed Eel", loose=20, bagged=3)
    bagging.bag(key=key(), product=eel, bags=4, by=None)
    lizard = make_product("Brook Lizard", bagged=2)
    near, far = (Place.objects.create(name=name) for name in ("Bin A", "Wall 2"))
    old, new = eel.item.lots.order_by("pk")
    Lot.objects.filter(pk=old.pk).update(place=far)
    Lot.objects.filter(pk__in=[new.pk, lizard.item.lots.get().pk]).update(place=near)
    first = take_order((eel, 5), due_on=date(2026, 12, 1))
    second = take_order((eel, 4), (lizard, 1), customer="Maple Orrin", due_on=date(2026, 12, 5))
    found = picking.picks([first, second])
    text = _text(papers.pick_list(found, [first, second], shop=known_shop, size="a4"))
    assert text.index("Bin A") < text.index("Wall 2")
    assert f"1 Brook Lizard {lizard.item.lots.get().number} order {second.pk}, Maple Orrin" in text
    assert f"3 Reed Eel {old.number} order {first.pk}, Juniper Vale" in text
    assert f"2 Reed Eel {new.number} order {first.pk}, Juniper Vale" in text
    assert f"2 Reed Eel {new.number} order {second.pk}, Maple Orrin" in text
    assert f"Not there yet Bags Product For 2 Reed Eel order {second.pk}, Maple Orrin" in text
    assert f"Orders: {first.pk}, {second.pk}" in text and "Bags to take: 8" in text


def test_the_pick_list_names_just_what_then_leaves(make_product, take_order):
    product = make_product(loose=40, bagged=3)
    bagging.bag(key=key(), product=product, bags=5, by=None)
    other = take_order((product, 2), customer="Maple Orrin")
    holds.hold(other)
    order = take_order((product, 4))
    listed = {pick.lot.pk: pick.bags for pick in picking.picks([order]).picks}
    entry = shipping.ship(key=key(), order=order, by=None)
    left = {line.lot_id: -line.quantity // 1_000_000 for line in entry.movements.all()}
    assert listed == left


def test_a_long_order_runs_over_pages_that_repeat_the_head(known_shop, take_order, make_product):
    name = "Reed Eel with the very long tail, Marsh Lantern over Ember, extra soft, five to a bag"
    products = []
    for n in range(60):
        item = factories.make_item("bagged product", f"{name} no. {n:02d}", "each")
        products.append(Product.objects.create(item=item, price_minor=100 + n))
    order = take_order(*[(product, 2) for product in products], customer="V" * 118)
    pages = _pages(paper_pdf.draw(_invoice(order, known_shop)))
    assert len(pages) > 2
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert "Product Bags A bag Amount" in page or number == len(pages)
    assert sum(page.count("no. ") for page in pages) == 60
    assert "Due 155.40 USD" in pages[-1]


def test_an_order_paid_in_a_hundred_parts_still_has_its_papers(
    known_shop, make_product, take_order
):
    order = take_order((make_product(price_minor=10_000), 1))
    for n in range(100):
        payments.record(
            key=key(), order=order, kind="payment", amount_minor=100, how=f"part {n}.", by=None
        )
    for drawn in (
        _invoice(order, known_shop),
        papers.receipt(_whole(order), shop=known_shop, size="letter"),
    ):
        text = _text(drawn)
        assert text.count("part ") == 100 and "0.00 USD" in text


@pytest.mark.parametrize(
    "name", ["Łąka & <b>Zofia</b>", "Дарья Озёрная", "Ελένη Λίμνη", "漁師", "x" * 300]
)
def test_any_name_makes_a_paper(known_shop, make_product, take_order, name):
    order = take_order((make_product(), 1), customer=name[:120])
    text = _text(_invoice(order, known_shop))
    if not pdf.missing_letters(name):
        assert name[:40].split()[0] in text


def test_the_page_names_the_letters_that_would_print_as_boxes(
    owner_client, make_product, take_order
):
    order = take_order((make_product(), 1), customer="Ren 漁師")
    page = owner_client.get(reverse("order", args=[order.pk])).content.decode()
    assert "prints an empty box for each: 漁師." in page
    # The address of a parcel stands on its packing slip.
    sent = take_order((make_product("C", bagged=1), 1))
    shipping.ship(key=key(), order=sent, ship_to="4 Reed Lane 漁", by=None)
    page = owner_client.get(reverse("order", args=[sent.pk])).content.decode()
    assert "prints an empty box for each: 漁." in page
    plain = take_order((make_product("B"), 1), customer="Дарья Łąka")
    page = owner_client.get(reverse("order", args=[plain.pk])).content.decode()
    assert "empty box" not in page


def test_the_logo_stands_at_the_head(known_shop, owner, make_product, take_order):
    order = take_order((make_product(), 1))
    plain = paper_pdf.draw(_invoice(order, known_shop))
    file = SimpleUploadedFile("logo.jpg", draw_picture())
    known_shop.logo = files.take_in_picture(file, name="logo", by=owner)
    known_shop.save()
    pictured = paper_pdf.draw(_invoice(order, known_shop))
    images = [len(pypdf.PdfReader(io.BytesIO(data)).pages[0].images) for data in (plain, pictured)]
    assert images == [0, 1]
    files.path_of(known_shop.logo.stored_as).unlink()
    assert paper_pdf.draw(_invoice(order, known_shop)) == plain


def test_a_paper_needs_no_shop_and_knows_its_sizes(make_product, take_order):
    order = take_order((make_product(), 1))
    assert paper_pdf.draw(_invoice(order)).startswith(b"%PDF")
    page = pypdfium2.PdfDocument(paper_pdf.draw(_invoice(order, size="a4")))[0]
    assert [round(side) for side in page.get_size()] == [595, 842]
    with pytest.raises(paper_pdf.PaperError, match="letter or a4"):
        paper_pdf.draw(_invoice(order, size="foolscap"))


def _random_order(chance, customer, products):
    order = Order.objects.create(
        customer=customer,
        ordered_on=date(2026, 11, 1),
        discount_percent=chance.choice([Decimal(0), Decimal(chance.randrange(10001)) / 100]),
        shipping_minor=chance.choice([0, chance.randrange(5000)]),
    )
    lines = [
        OrderLine(
            order=order,
            product=product,
            bags=(bags := chance.choice([1, 2, chance.randrange(1, 5000)])),
            price_minor=chance.choice([0, 1, 99, 333, chance.randrange(200_000)]),
            discount_percent=chance.choice([0, Decimal(chance.randrange(10001)) / 100]),
            dropped=chance.choice([0, 0, bags // 2]),
        )
        for product in chance.sample(products, chance.randrange(1, 6))
    ]
    OrderLine.objects.bulk_create(lines)
    if chance.random() < 0.5:
        Payment.objects.create(
            order=order, key=key(), paid_on=date(2026, 11, 2), amount_minor=chance.randrange(10**6)
        )
    return order


def _by_hand(order):
    """Total and due with decimals alone: half up per line, then once for the order's discount."""
    cents = Decimal(1)
    goods = sum(
        (
            Decimal(line.bags - line.dropped)
            * line.price_minor
            * (100 - Decimal(str(line.discount_percent)))
            / 100
        ).quantize(cents, ROUND_HALF_UP)
        for line in order.lines.all()
    )
    off = (goods * Decimal(str(order.discount_percent)) / 100).quantize(cents, ROUND_HALF_UP)
    total = goods - off + order.shipping_minor
    return total, total - sum(payment.amount_minor for payment in order.payments.all())


def test_invoices_come_to_what_the_page_says_for_a_thousand_orders(known_shop, make_product):
    chance = random.Random(20261129)
    customer = Customer.objects.create(name="Juniper Vale")
    products = [
        Product.objects.create(
            item=factories.make_item("bagged product", f"P{n}", "each"), price_minor=1
        )
        for n in range(8)
    ]
    made = [_random_order(chance, customer, products) for _ in range(1000)]
    listed = dict(
        queries.orders().annotate(total_minor=queries.TOTAL_MINOR).values_list("pk", "total_minor")
    )
    found = queries.orders().prefetch_related("lines__product__item", "payments").order_by("pk")
    for number, order in enumerate(found):
        total, due = _by_hand(order)
        bill = Invoice(order=order, number=f"2026-{number:04d}", issued_on=date(2026, 11, 3))
        drawn = papers.invoice(bill, order, shop=known_shop, size="letter")
        sums = dict(drawn.grids[0].sums)
        assert sums["Total"] == f"{total / 100:,.2f} USD"
        assert listed[order.pk] == total == queries.money_of(order).total_minor
        label = "Due" if due >= 0 else "Paid too much"
        assert sums[label] == f"{abs(due) / 100:,.2f} USD"
        if number % 100 == 0:
            # What is printed is what was reckoned.
            text = _text(drawn)
            assert f"Total {sums['Total']}" in text and f"{label} {sums[label]}" in text
            amounts = [row[-1] for row in drawn.grids[0].rows]
            for amount in amounts:
                assert re.search(rf"(?<![\d,.]){re.escape(amount)}(?![\d,])", text)
    assert len(made) == 1000


def test_the_page_of_an_order_shows_the_invoices_sum(owner_client, known_shop, make_product):
    chance = random.Random(7)
    customer = Customer.objects.create(name="Juniper Vale")
    products = [make_product(f"P{n}") for n in range(6)]
    for order in [_random_order(chance, customer, products) for _ in range(8)]:
        sums = dict(_invoice(order, known_shop).grids[0].sums)
        page = owner_client.get(reverse("order", args=[order.pk])).content.decode()
        assert sums["Total"] in page
