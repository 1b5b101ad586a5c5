"""The pages of orders and customers, as a browser without scripts sends them."""

import pytest
from django.urls import reverse

from inventory.services import counts
from shop.models import Customer, Order
from shop.services import orders, payments, shipping
from tests.factories import key

pytestmark = pytest.mark.django_db


def _order(*lines, **head):
    data = {"customer": "", "new_customer": "", "due_on": "", "notes": "", **head}
    data |= {"lines-TOTAL_FORMS": "10", "lines-INITIAL_FORMS": "0"}
    for number in range(10):
        product, bags, price = lines[number] if number < len(lines) else ("", "", "")
        data |= {f"lines-{number}-product": str(product)}
        data |= {f"lines-{number}-bags": bags, f"lines-{number}-price": price}
    return data


def test_an_order_for_a_new_customer_is_taken_in_one_form(owner_client, make_product):
    first, second = make_product("A", price_minor=650), make_product("B")
    data = _order((first, "3", ""), (second, "2", "7.25"), new_customer="Juniper Vale")
    answer = owner_client.post(reverse("order_new"), {**data, "due_on": "2026-12-04"})
    order = Order.objects.get()
    assert answer.headers["Location"] == reverse("order", args=[order.pk])
    assert (order.customer.name, str(order.due_on)) == ("Juniper Vale", "2026-12-04")
    assert list(order.lines.values_list("bags", "price_minor")) == [(3, 650), (2, 725)]


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (("", "3", ""), "Which product?"),
        (("P", "", ""), "How many bags?"),
        (("P", "1½", ""), "whole number"),
        (("P", "0", ""), "at least 1"),
        (("P", "-2", ""), "less than zero"),
        (("P", "NaN", ""), "not an amount"),
        (("P", "2", "1e309"), "without the e"),
        (("P", "2", "6,50"), "with a point"),
        (("heron quill", "2", ""), "No product fits this"),
        (("", "", ""), "at least one line"),
    ],
)
def test_an_order_that_makes_no_sense_is_shown_again_as_typed(
    owner_client, make_product, line, reason
):
    product = make_product()
    filled = (product if line[0] == "P" else line[0], *line[1:])
    data = _order(filled, new_customer="Juniper Vale", notes="Gate code 4417")
    answer = owner_client.post(reverse("order_new"), data)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert reason in page
    assert "Gate code 4417" in page and "Juniper Vale" in page
    assert not Order.objects.exists() and not Customer.objects.exists()


def test_one_product_stands_on_one_line(owner_client, make_product):
    product = make_product("Reed Eel")
    data = _order((product, "1", ""), (product, "2", ""), new_customer="Juniper Vale")
    answer = owner_client.post(reverse("order_new"), data)
    assert answer.status_code == 422
    assert "Reed Eel stands twice" in answer.content.decode()


def test_the_same_order_sent_twice_is_asked_about(owner_client, make_product):
    known = Customer.objects.create(name="Juniper Vale")
    product = make_product()
    data = _order((product, "3", ""), customer=known.pk)
    owner_client.post(reverse("order_new"), data)
    answer = owner_client.post(reverse("order_new"), data)
    assert answer.status_code == 422
    assert b"it is order" in answer.content and b'name="really"' in answer.content
    assert owner_client.post(reverse("order_new"), {**data, "really": "on"}).status_code == 302
    other = _order((product, "4", ""), customer=known.pk)
    assert owner_client.post(reverse("order_new"), other).status_code == 302
    assert Order.objects.count() == 3


def test_a_customer_is_chosen_or_new_but_not_both_and_not_neither(owner_client, make_product):
    known = Customer.objects.create(name="Juniper Vale")
    line = (make_product(), "1", "")
    for head in (
        {},
        {"customer": known.pk, "new_customer": "Ash"},
        {"new_customer": "juniper vale"},
    ):
        assert owner_client.post(reverse("order_new"), _order(line, **head)).status_code == 422
    assert not Order.objects.exists()


def test_an_open_order_is_changed_and_a_shipped_one_is_not(owner_client, make_product, take_order):
    product = make_product(bagged=4)
    order = take_order((product, 2))
    url = reverse("order_edit", args=[order.pk])
    assert 'value="6.50"' in owner_client.get(url).content.decode()
    owner_client.post(url, _order((product, "4", "6.00"), customer=order.customer_id))
    assert list(order.lines.values_list("bags", "price_minor")) == [(4, 600)]
    shipping.ship(key=key(), order=order, by=None)
    owner_client.post(url, _order((product, "1", ""), customer=order.customer_id))
    assert order.lines.get().bags == 4


def test_the_owner_sees_what_the_order_comes_to(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=3, price_minor=4321), 3))
    assert b"129.63 USD" in owner_client.get(reverse("order", args=[order.pk])).content


def test_the_order_page_keeps_an_undone_shipment_in_sight(owner_client, make_product, take_order):
    order = take_order((make_product(bagged=3), 3))
    entry = shipping.ship(key=key(), order=order, by=None)
    counts.undo(key=key(), entry=entry, by=None)
    page = owner_client.get(reverse("order", args=[order.pk])).content.decode()
    assert "undone" in page and "Ship it" in page


def test_orders_are_listed_by_state(owner_client, make_product, take_order):
    product = make_product(bagged=4)
    take_order((product, 1), customer="Open Vale")
    shipping.ship(key=key(), order=take_order((product, 1), customer="Gone Vale"), by=None)
    orders.cancel(take_order((product, 1), customer="Lost Vale"))
    url = reverse("orders")
    for state, name in (
        ("open", b"Open Vale"),
        ("shipped", b"Gone Vale"),
        ("cancelled", b"Lost Vale"),
    ):
        page = owner_client.get(url, {"status": state}).content
        assert name in page and page.count(b" Vale</td>") == 1
    assert owner_client.get(url, {"status": "all"}).content.count(b" Vale</td>") == 3
    assert owner_client.get(url, {"status": "elsewhere"}).status_code == 404


def test_an_order_is_found_by_customer_number_or_its_number_elsewhere(
    owner_client, make_product, take_order
):
    product = make_product()
    first = take_order((product, 1), customer="Juniper Vale")
    other = take_order((product, 1), customer="Ash Ferry")
    Order.objects.filter(pk=other.pk).update(source="web shop", source_reference="A-77")
    orders.cancel(first)
    url = reverse("orders")
    for text, names in (
        ("juni", {"Juniper Vale"}),
        (f"#{first.pk}", {"Juniper Vale"}),
        ("a-77", {"Ash Ferry"}),
        ("9" * 40, set()),
        ("%", set()),
    ):
        page = owner_client.get(url, {"status": "all", "q": text}).content.decode()
        assert {n for n in ("Juniper Vale", "Ash Ferry") if f">{n}</td>" in page} == names, text
    page = owner_client.get(url, {"q": "juni"}).content.decode()
    assert "No order here fits “juni”" in page and "Look in all orders" in page


def test_cancelling_takes_a_post(owner_client, make_product, take_order):
    order = take_order((make_product(), 1))
    url = reverse("order_cancel", args=[order.pk])
    assert owner_client.get(url).status_code == 405
    page = owner_client.post(url, follow=True).content
    assert b"is cancelled" in page and b"Ship it" not in page
    assert b"nothing: it is cancelled" in page
    paid = take_order((make_product("Paid"), 1))
    payments.record(key=key(), order=paid, kind="deposit", amount_minor=300, by=None)
    page = owner_client.post(reverse("order_cancel", args=[paid.pk]), follow=True).content
    assert b"3.00 USD to give back" in page


def test_the_lists_cost_the_same_queries_however_long(
    owner_client, make_product, take_order, django_assert_max_num_queries
):
    def cost(url):
        with django_assert_max_num_queries(60) as seen:
            assert owner_client.get(url).status_code == 200
        return len(seen)

    take_order((make_product("One", loose=3, bagged=2), 3))
    pages = [reverse("tonight"), reverse("orders"), reverse("customers"), reverse("books")]
    pages.append(reverse("order", args=[Order.objects.get().pk]))
    pages.append(reverse("customer", args=[Customer.objects.get().pk]))
    before = [cost(url) for url in pages]
    products = [make_product(f"More {n}", loose=7, bagged=1) for n in range(4)]
    for number in range(5):
        take_order(*[(product, 2) for product in products], customer=f"Vale {number}")
    first = Order.objects.order_by("pk").first()
    orders.change(
        first, customer=first.customer, lines=[orders.Wanted(product, 3) for product in products]
    )
    for n in range(3):
        take_order((products[n], 1), customer=first.customer.name)
    assert [cost(url) for url in pages] == before


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"new_customer": "Juniper Vale"},
        {"new_customer": "Ju\0niper", "due_on": "2026-13-45"},
        {"customer": "99999999999999999999", "lines-TOTAL_FORMS": "x", "lines-INITIAL_FORMS": "-1"},
        {**_order(new_customer="Vale"), "lines-TOTAL_FORMS": "4000"},
    ],
)
def test_a_torn_order_form_is_shown_again(owner_client, shop, data):
    assert owner_client.post(reverse("order_new"), data).status_code == 422
    assert not Order.objects.exists()


@pytest.mark.parametrize(
    "address",
    [
        "/customers/?q=%00&page=zz",
        "/customers/?page=-7",
        "/orders/?page=99999999999999999999",
        "/orders/new/?customer=99999999999999999999",
        "/orders/new/?customer=%C2%B2",
    ],
)
def test_a_mangled_address_still_opens_a_page(owner_client, shop, address):
    assert owner_client.get(address).status_code == 200


def test_an_order_that_never_was_is_not_found(owner_client, shop):
    for address in ("/orders/7/", "/orders/99999999999999999999/", "/customers/7/"):
        assert owner_client.get(address).status_code == 404


def test_a_customer_is_added_found_and_changed(owner_client):
    owner_client.post(reverse("customer_new"), {"name": "Juniper Vale", "email": "j@vale.example"})
    person = Customer.objects.get()
    assert b"Juniper Vale" in owner_client.get(reverse("customers"), {"q": "juni"}).content
    assert b"Juniper Vale" not in owner_client.get(reverse("customers"), {"q": "zz"}).content
    url = reverse("customer", args=[person.pk])
    owner_client.post(url, {"name": "Juniper Vale", "phone": "555 0100"})
    person.refresh_from_db()
    assert person.phone == "555 0100"
    assert owner_client.post(url, {"name": ""}).status_code == 422
    assert owner_client.post(reverse("customer_new"), {"name": "Juniper Vale"}).status_code == 422
