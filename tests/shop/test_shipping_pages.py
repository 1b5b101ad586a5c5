"""The pages of packing, parcels and returns, as a browser without scripts sends them."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Lot, Place
from inventory.services import counts
from production.services import bagging
from shop import parcels
from shop.forms_shipping import ReturnForm, WeightField
from shop.models import Order, Payment, Return, Shipment
from shop.services import holds, payments, shipping
from shop.services.shipping import Packed
from tests.factories import key, micro
from tests.shop.stalls import bring

pytestmark = pytest.mark.django_db


def _key_on(page):
    return re.search(r'name="key" value="([^"]+)"', page.content.decode())[1]


def _text(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def _ship_url(order):
    return reverse("order_ship", args=[order.pk])


def _form(client, order, **typed):
    """The form as it is shown, with what was typed over it."""
    page = client.get(_ship_url(order))
    found = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', page.content.decode()))
    found = {name: value for name, value in found.items() if name.startswith(("key", "bags"))}
    return found | typed


def _line(order):
    return order.lines.select_related("product__item").get()


def test_the_order_page_offers_to_ship_what_is_ready(helper_client, make_product, take_order):
    full = take_order((make_product("Full", bagged=3), 3))
    part = take_order((make_product("Part", bagged=2), 3))
    none = take_order((make_product("None"), 3))
    pages = [
        _text(helper_client.get(reverse("order", args=[one.pk]))) for one in (full, part, none)
    ]
    assert "3 of the 3 bags still to come stand ready" in pages[0] and "Ship it" in pages[0]
    assert "Ship what is ready" in pages[1] and "Part: 1 bag to fill" in pages[1]
    assert "None of the 3 bags" in pages[2] and "Ship" not in pages[2].split("Packing")[1][:120]


def test_a_helper_packs_what_is_prefilled_and_sees_no_prices(
    helper_client, helper, make_product, take_order
):
    order = take_order((make_product(bagged=3, price_minor=4321), 4))
    data = _form(helper_client, order, carrier="Post", tracking="RX 12", weight_g="1 lb")
    assert data[f"bags-{_line(order).pk}"] == "3"
    answer = helper_client.post(_ship_url(order), data, follow=True)
    assert "1 bag still to come" in _text(answer)
    shipment = order.shipments.get()
    assert (shipment.entry.by, shipment.carrier, shipment.tracking) == (helper, "Post", "RX 12")
    assert shipment.weight_g == 454
    assert "RX 12" in _text(answer) and "454 g (1 lb 0 oz)" in _text(answer)
    for word in ("43.21", "Papers", "Bags came back", "Close it"):
        assert word not in _text(answer)


def test_a_form_sent_twice_sends_one_parcel(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=6), 6))
    line = _line(order)
    data = _form(owner_client, order, **{f"bags-{line.pk}": "2"})
    assert owner_client.post(_ship_url(order), data).status_code == 302
    assert "was sent already" in _text(owner_client.post(_ship_url(order), data, follow=True))
    line.refresh_from_db()
    assert (line.shipped, order.shipments.count()) == (2, 1)


def test_more_than_is_there_is_refused_and_what_was_typed_stays(
    owner_client, make_product, take_order
):
    order = take_order((make_product("Reed Eel", bagged=1), 3))
    data = _form(owner_client, order, **{f"bags-{_line(order).pk}": "3", "tracking": "keep me"})
    answer = owner_client.post(_ship_url(order), data)
    assert answer.status_code == 422
    assert "3 to send, 1 ready, 2 short" in _text(answer)
    assert b"keep me" in answer.content
    assert not Shipment.objects.exists()


@pytest.mark.parametrize(
    ("typed", "grams"),
    # 1 oz is 28.349523125 g: NIST Handbook 44, Appendix C.
    [("1 lb 3 oz", 539), ("2lb 0.5oz", 921), ("19 oz", 539), ("½ lb", 227), ("1.2 kg", 1200)],
)
def test_a_weight_is_read_as_a_postal_scale_says_it(typed, grams):
    assert WeightField().clean(typed) == grams


def test_more_than_ordered_is_a_question(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=5), 3))
    data = _form(owner_client, order, **{f"bags-{_line(order).pk}": "4"})
    answer = owner_client.post(_ship_url(order), data)
    assert answer.status_code == 422 and "4 in this parcel, only 3 still to come" in _text(answer)
    assert owner_client.post(_ship_url(order), data | {"really": "on"}).status_code == 302
    assert "only 3 still to come" in order.shipments.get().entry.look_at


def test_an_expired_lot_is_asked_about(owner_client, make_product, take_order):
    product = make_product(bagged=5)
    Lot.objects.filter(item=product.item).update(expires_on="2026-01-31")
    order = take_order((product, 3))
    answer = owner_client.post(_ship_url(order), _form(owner_client, order))
    assert answer.status_code == 422 and "which expired on 2026-01-31" in _text(answer)


def test_lots_are_chosen_and_must_add_up(owner_client, make_product, take_order):
    product = make_product(loose=20, bagged=3)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    early, late = product.item.lots.order_by("pk")
    order = take_order((product, 5))
    line = _line(order)
    data = _form(owner_client, order, **{f"lot-{line.pk}-{late.pk}": "4"})
    answer = owner_client.post(_ship_url(order), data)
    assert "By lot you wrote 4 bags, here 5" in _text(answer)
    data[f"lot-{line.pk}-{early.pk}"] = "1"
    assert owner_client.post(_ship_url(order), data).status_code == 302
    drawn = dict(order.shipments.get().entry.movements.values_list("lot", "quantity"))
    assert drawn == {early.pk: micro(-1), late.pk: micro(-4)}


@pytest.mark.parametrize(
    ("field", "typed", "reason"),
    [
        ("bags", "-1", "less than zero"),
        ("bags", "1½", "whole number"),
        ("bags", "1000000000000", "at most 100,000"),
        ("bags", "NaN", "not an amount"),
        ("bags", "", "The parcel is empty"),
        ("weight_g", "12", "Write the unit too"),
        ("weight_g", "3 cups", "Write a weight"),
        ("weight_g", "900 kg", "between 1 g and 500 kg"),
    ],
)
def test_a_parcel_that_makes_no_sense_is_asked_for_again(
    owner_client, make_product, take_order, field, typed, reason
):
    order = take_order((make_product(bagged=3), 3))
    name = f"bags-{_line(order).pk}" if field == "bags" else field
    answer = owner_client.post(_ship_url(order), _form(owner_client, order, **{name: typed}))
    assert answer.status_code == 422
    assert reason in _text(answer)
    assert not Shipment.objects.exists()


def test_an_order_that_is_done_has_nothing_to_pack(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=3), 3))
    shipping.ship(key=key(), order=order, by=None)
    answer = owner_client.get(_ship_url(order), follow=True)
    assert "nothing more is to be sent" in _text(answer)
    answer = owner_client.post(_ship_url(order), {"key": "other"})
    assert answer.status_code == 422 and "has shipped" in _text(answer)


def test_the_list_tells_a_part_from_the_whole(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=3), 4))
    packed = [Packed(_line(order), 2)]
    shipping.ship(key=key(), order=order, packed=packed, by=None)
    assert "partly shipped" in _text(owner_client.get(reverse("orders")))


def test_an_order_is_closed_and_opened_again(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=3), 4))
    shipping.ship(key=key(), order=order, packed=[Packed(_line(order), 3)], by=None)
    answer = owner_client.post(reverse("order_close", args=[order.pk]), follow=True)
    assert "closed without 1 bag" in _text(answer)
    answer = owner_client.post(reverse("order_reopen", args=[order.pk]), follow=True)
    assert "is open again" in _text(answer)
    answer = owner_client.post(reverse("order_reopen", args=[order.pk]), follow=True)
    assert "was not closed with anything missing" in _text(answer)


def test_a_tracking_number_comes_later(helper_client, make_product, take_order):
    order = take_order((make_product(bagged=3), 3))
    shipment = shipping.ship(key=key(), order=order, by=None).shipment
    url = reverse("shipment", args=[shipment.pk])
    assert "missing is" in _text(helper_client.get(url))
    data = {"ship_to": "1 Reed Lane\n\n", "carrier": "", "tracking": "ZZ 9", "weight_g": "1.5 oz"}
    assert helper_client.post(url, data).status_code == 302
    shipment.refresh_from_db()
    assert (shipment.tracking, shipment.ship_to, shipment.weight_g) == ("ZZ 9", "1 Reed Lane", 43)


def _parcel(make_product, take_order, bags=5):
    order = take_order((make_product(bagged=bags), bags))
    return shipping.ship(key=key(), order=order, by=None).shipment


def test_bags_come_back_with_their_money(owner_client, make_product, take_order):
    shipment = _parcel(make_product, take_order)
    order, line = shipment.order, shipment.entry.movements.get()
    payments.record(key=key(), order=order, kind="payment", amount_minor=3250, by=None)
    url = reverse("shipment_return", args=[shipment.pk])
    page = owner_client.get(url)
    data = {
        "key": _key_on(page),
        f"bags-{line.pk}": "2",
        "fate": "waste",
        "instead": "credit",
        "reason": "split seams",
        "refund": "13.00",
        "how": "transfer",
    }
    answer = owner_client.post(url, data, follow=True)
    text = _text(answer)
    assert "2 came back" in text and "split seams" in text
    assert Return.objects.get().fate == "waste"
    assert Payment.objects.get(kind="refund").amount_minor == -1300
    assert "all paid" in text
    # The same form once more is the same return.
    owner_client.post(url, data)
    assert Return.objects.count() == 1 and Payment.objects.count() == 2


def test_parts_of_one_lot_are_one_in_the_parcel_and_two_when_they_come_back(
    owner_client, make_product, take_order
):
    product = make_product(bagged=3)
    lot = product.item.lots.get(form=Lot.Form.BAG)
    rack = Place.objects.create(name="Rack")
    bring(product, 1, rack)
    shipment = shipping.ship(
        key=key(), order=take_order((product, 3)), ship_to="4 Reed Lane", by=None
    ).shipment
    [parcel] = parcels.of([shipment])
    assert len(parcel.sent) == 2
    [(_, bags, [merged])] = parcel.by_product
    assert (bags, merged.bags, merged.lot.printed) == (3, 3, lot.number)
    form = ReturnForm(parcel=parcel)
    labels = [str(field.label) for _, field in form.by_lot()]
    assert labels == [f"{product}, lot {lot.number}", f"{product}, lot {lot.number}/m1"]
    page = owner_client.get(reverse("shipment_return", args=[shipment.pk])).content.decode()
    menu = re.search(r'<a href="([^"]+)" aria-current="page"', page)
    assert menu[1] == reverse("orders")


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ({}, "how many bags came back"),
        ({"bags": "6"}, "at most 5"),
        ({"bags": "1", "fate": "moon"}, "fate"),
        ({"bags": "1", "how": "cash"}, "How much was paid back?"),
        ({"bags": "1", "refund": "1.00"}, "no more can go back"),
        ({"bags": "1", "refund": "1.00", "instead": "replace"}, "Yes, really?"),
    ],
)
def test_a_return_that_makes_no_sense_is_asked_for_again(
    owner_client, make_product, take_order, typed, reason
):
    shipment = _parcel(make_product, take_order)
    line = shipment.entry.movements.get()
    data = {"key": "k", "fate": "stock", "instead": "credit"} | typed
    if "bags" in data:
        data[f"bags-{line.pk}"] = data.pop("bags")
    answer = owner_client.post(reverse("shipment_return", args=[shipment.pk]), data)
    assert answer.status_code == 422 and reason in answer.content.decode()
    assert not Return.objects.exists() and not Payment.objects.exists()


def test_nothing_comes_back_of_an_undone_parcel(owner_client, make_product, take_order):
    shipment = _parcel(make_product, take_order)
    counts.undo(key=key(), entry=shipment.entry, by=None)
    answer = owner_client.get(reverse("shipment_return", args=[shipment.pk]), follow=True)
    assert "was undone" in _text(answer)


def test_a_customers_page_leads_to_every_lot_that_was_sent(owner_client, make_product, take_order):
    shipment = _parcel(make_product, take_order)
    customer = shipment.order.customer
    assert b"lot by lot" in owner_client.get(reverse("customer", args=[customer.pk])).content
    page = owner_client.get(reverse("customer_sent", args=[customer.pk]))
    assert shipment.entry.movements.get().lot.number in _text(page)


def test_a_lots_page_says_to_whom_it_went(owner_client, make_product, take_order):
    shipment = _parcel(make_product, take_order)
    lot = shipment.entry.movements.get().lot
    page = owner_client.get(reverse("inventory:lot", args=[lot.pk]))
    assert f"Shipped order {shipment.order_id} to Juniper Vale" in _text(page)


def test_packing_ticks_the_orders_that_have_something_ready(
    helper_client, make_product, take_order
):
    ready = take_order((make_product("Reed", bagged=2), 3))
    empty = take_order((make_product("Bare"), 3))
    page = helper_client.get(reverse("packing")).content.decode()
    assert f'value="{ready.pk}" checked' in page
    assert f'value="{empty.pk}"' in page and f'value="{empty.pk}" checked' not in page


def test_the_pages_of_parcels_cost_the_same_queries_however_long(
    owner_client, make_product, take_order, django_assert_max_num_queries
):
    def cost(url):
        with django_assert_max_num_queries(80) as seen:
            assert owner_client.get(url).status_code == 200
        return len(seen)

    Place.objects.create(name="Shelf 1")
    products = [make_product(f"Reed {n}", loose=50, bagged=9) for n in range(5)]
    order = take_order(*[(product, 7) for product in products[:2]])
    holds.hold(order)

    def send(count):
        lines = order.lines.select_related("product__item")
        packed = [Packed(line, 1) for line in lines][:count]
        return shipping.ship(key=key(), order=order, packed=packed, by=None).shipment

    shipment = send(1)
    pages = [
        reverse("packing"),
        reverse("order", args=[order.pk]),
        _ship_url(order),
        reverse("order_pick_list", args=[order.pk]),
        reverse("shipment", args=[shipment.pk]),
        reverse("shipment_return", args=[shipment.pk]),
        reverse("packing_slip", args=[shipment.pk]),
        reverse("customer_sent", args=[order.customer_id]),
        reverse("pick_list") + f"?order={order.pk}",
    ]
    before = [cost(url) for url in pages]
    for n, product in enumerate(products):
        bagging.bag(key=key(), product=product, bags=2, by=None)
        Lot.objects.filter(item=product.item).update(place=Place.objects.create(name=f"P{n}"))
    send(2)
    send(2)
    for number in range(4):
        take_order(*[(product, 2) for product in products], customer=f"Vale {number}")
    pages[-1] = (
        reverse("pick_list")
        + "?"
        + "&".join(f"order={pk}" for pk in Order.objects.values_list("pk", flat=True))
    )
    assert [cost(url) for url in pages] == before


@pytest.mark.parametrize(
    "name", ["shipment", "packing_slip", "shipment_return", "invoice", "receipt"]
)
def test_what_never_was_is_not_found(owner_client, shop, name):
    assert owner_client.get(reverse(name, args=[7])).status_code == 404


def test_the_day_of_a_parcel_is_the_day_it_left(make_product, take_order):
    shipment = _parcel(make_product, take_order)
    assert shipment.entry.business_date == timezone.localdate()


def test_a_line_that_has_left_whole_keeps_its_name(owner_client, make_product, take_order):
    order = take_order((make_product("Reed Eel", bagged=2), 2), (make_product("Brook Lizard"), 2))
    line = order.lines.select_related("product__item").first()
    shipping.ship(key=key(), order=order, packed=[Packed(line, 2)], by=None)
    text = _text(owner_client.get(reverse("order", args=[order.pk])))
    assert re.search(r"Reed Eel 2 bags\b", text) and not re.search(r"\bx\d+ 2 bags", text)
