"""Typing an order: fragments are understood, what is open is asked beside its line, and nothing is lost."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from production.models import Cavity, Mold, Pattern
from shop import queries
from shop.models import Customer, Order, PriceList
from shop.services import orders, shipping
from tests import factories
from tests.factories import key

pytestmark = pytest.mark.django_db
EEL8, EEL16, CRAW = "Reed Eel Marsh, 8", "Reed Eel Marsh, 16", "Stump Craw Kiln, 5"


@pytest.fixture
def products(shop, make_product):
    costs = {EEL8: 650, EEL16: 1100, CRAW: 700}
    return {name: make_product(name, bagged=20, price_minor=n) for name, n in costs.items()}


def _data(*lines, button="keep", **head):
    data = {"new_customer": "Juniper Vale"} | head | {button: "1"}
    data |= {"lines-TOTAL_FORMS": str(max(8, len(lines))), "lines-INITIAL_FORMS": "0"}
    for number, line in enumerate(lines):
        data |= {f"lines-{number}-{name}": text for name, text in line.items()}
    return data


def _line(product, bags="", price="", discount="", **more):
    return {"product": product, "bags": str(bags), "price": price, "discount": discount} | more


def _new(client, *lines, **typed):
    return client.post(reverse("order_new"), _data(*lines, **typed))


def _page(answer):
    return answer.content.decode()


def _value(answer, field):
    found = re.search(rf'<input[^>]*name="{field}"[^>]*>', _page(answer))[0]
    value = re.search(r'value="([^"]*)"', found)
    return value[1] if value else ""


def test_an_order_with_all_that_belongs_to_it_is_taken_in_one_form(owner_client, products):
    _new(
        owner_client,
        _line("eel marsh 8", 3),
        _line("craw", 2, "6.00", "12.5"),
        ship_to="4 Ferry Row\nOtter Bend",
        discount_percent="10",
        shipping_minor="5.00",
        deposit="20",
    )
    order = Order.objects.get()
    lines = list(order.lines.values_list("product__item__name", "bags", "price_minor"))
    assert lines == [(EEL8, 3, 650), (CRAW, 2, 600)]
    money = queries.money_of(order)
    # 19.50 + 10.50 = 30.00; less 10 % and 5.00 for shipping 32.00; 20.00 is here.
    assert (money.total_minor, money.paid_minor, money.due_minor) == (3200, 2000, 1200)
    assert (order.ship_to, order.payments.get().kind) == ("4 Ferry Row\nOtter Bend", "deposit")
    page = _page(owner_client.get(reverse("order", args=[order.pk])))
    assert "Otter Bend" in page and "32.00 USD" in page and "12.00 USD" in page


def test_words_that_fit_several_products_ask_which_one(owner_client, products):
    answer = _new(owner_client, _line("eel", 3))
    page = _page(answer)
    assert answer.status_code == 422 and "This fits several products" in page
    pks = re.findall(r'name="lines-0-choice" value="(\d+)"', page)
    assert set(pks) == {str(products[EEL8].pk), str(products[EEL16].pk)}
    assert not Order.objects.exists()
    _new(owner_client, _line("eel", 3, choice=str(products[EEL16].pk)))
    assert Order.objects.get().lines.get().product == products[EEL16]


def test_a_choice_that_was_not_offered_is_no_choice(owner_client, products):
    answer = _new(owner_client, _line("eel", 3, choice=str(products[CRAW].pk)))
    assert answer.status_code == 422 and not Order.objects.exists()


def test_a_misspelt_product_is_offered_and_not_taken(owner_client, products):
    answer = _new(owner_client, _line("Stump Crow Kilm, 5", 1))
    page = _page(answer)
    assert answer.status_code == 422 and "No product is named so" in page
    assert f'name="lines-0-choice" value="{products[CRAW].pk}"' in page


def test_looking_adds_room_and_keeps_every_typed_line(owner_client, products):
    lines = [_line("craw", n + 1) if n == 3 else _line(f"no such {n}", n) for n in range(8)]
    answer = _new(owner_client, *lines, button="more", notes="Gate code 4417")
    page = _page(answer)
    assert answer.status_code == 200 and not Order.objects.exists()
    assert 'name="lines-TOTAL_FORMS" value="12"' in page and "Gate code 4417" in page
    assert [_value(answer, f"lines-{n}-product") for n in range(8)] == [
        CRAW if n == 3 else f"no such {n}" for n in range(8)
    ]
    # What is clear is added up.
    assert "So far 4 bags, 28.00 USD" in page


def test_the_page_without_scripts_offers_every_product_that_is_sold(owner_client, products):
    page = _page(owner_client.get(reverse("order_new")))
    assert all(f'<option value="{name}">' in page for name in products)
    assert 'list="products"' in page


def test_pasted_lines_are_shown_for_confirmation_with_what_was_not_understood(
    owner_client, products
):
    text = "Hi!\n12 x eel marsh 8\n3 bags of craw\nmarsh – 7\nThanks"
    answer = _new(owner_client, _line("craw", 1), button="read", paste=text)
    page = _page(answer)
    assert answer.status_code == 200 and not Order.objects.exists()
    # The typed line stays the first; each pasted line follows, as it was written.
    rows = [_value(answer, f"lines-{n}-product") for n in range(6)]
    assert rows == [CRAW, "Hi!", EEL8, CRAW, "marsh", "Thanks"]
    assert [_value(answer, f"lines-{n}-bags") for n in range(6)] == ["1", "", "12", "3", "7", ""]
    assert page.count('badge-ok">understood') == 2 and page.count("not clear") == 3
    assert "“marsh – 7”" in page and "This fits several products" in page
    assert _value(answer, "lines-1-said") == "Hi!"


def test_a_greeting_is_emptied_and_the_rest_is_taken(owner_client, products):
    lines = [_line("", said="Hi!"), _line(CRAW, 3, said="3 bags of craw")]
    look = _page(_new(owner_client, *lines, button="more"))
    assert "Hi!" not in look and "“3 bags of craw”" in look
    assert _new(owner_client, *lines).status_code == 302
    assert Order.objects.get().lines.get().bags == 3


def test_a_paste_beyond_sixty_lines_keeps_the_rest_in_the_field(owner_client, products):
    text = "\n".join(f"{n + 1} x craw" for n in range(63))
    page = _page(_new(owner_client, button="read", paste=text))
    assert 'name="lines-TOTAL_FORMS" value="60"' in page
    assert "The rest is still here" in page
    left = re.search(r'<textarea id="paste"[^>]*>([^<]*)<', page)[1]
    assert left.split("\n") == ["61 x craw", "62 x craw", "63 x craw"]


def test_sixty_lines_are_taken(owner_client, shop, make_product):
    names = [f"Bait {n:02}" for n in range(60)]
    for name in names:
        make_product(name)
    _new(owner_client, *[_line(name, 1) for name in names])
    assert Order.objects.get().lines.count() == 60


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (_line(CRAW, "0"), "at least 1"),
        (_line(CRAW, "1000000000000"), "at most 100,000"),
        (_line(CRAW, "2", "1,50"), "with a point"),
        (_line(CRAW, "2", "", "101"), "at most 100"),
        (_line("", "", "", "5"), "Which product?"),
        (_line("heron quill", "2"), "No product fits this"),
        (_line("x" * 201, "2"), "at most 200 characters"),
    ],
)
def test_what_makes_no_sense_is_said_at_its_line_and_kept(owner_client, products, line, said):
    answer = _new(owner_client, line, notes="Gate code 4417")
    page = _page(answer)
    assert answer.status_code == 422 and said in page and "Gate code 4417" in page
    assert _value(answer, "lines-0-bags") == line["bags"] and not Order.objects.exists()


def test_a_due_day_that_has_passed_is_asked_about(owner_client, products):
    past = str(timezone.localdate() - timedelta(days=3))
    answer = _new(owner_client, _line(CRAW, 1), due_on=past)
    assert answer.status_code == 422 and "has passed" in _page(answer)
    assert not Order.objects.exists()
    assert _new(owner_client, _line(CRAW, 1), due_on=past, late="on").status_code == 302
    far = str(timezone.localdate() + timedelta(days=4000))
    assert "years ahead" in _page(_new(owner_client, _line(CRAW, 2), due_on=far))


def test_a_retired_product_is_refused_with_how_to_mend_it(owner_client, products):
    item = products[CRAW].item
    type(item).objects.filter(pk=item.pk).update(archived=True)
    answer = _new(owner_client, _line(CRAW, 1))
    assert answer.status_code == 422
    assert "was put away. Bring it back on its page" in _page(answer)


def _molded(product):
    mold = factories.make_mold(f"Mold of {product}")
    Cavity.objects.create(mold=mold, bait=product.contents.get().bait, count=2, bait_ml=Decimal(8))
    return mold


def test_an_order_for_a_product_whose_mold_was_retired_is_asked_about(owner_client, products):
    mold = _molded(products[CRAW])
    Mold.objects.filter(pk=mold.pk).update(archived=True)
    # Twenty lie ready: no mold is needed for them.
    assert _new(owner_client, _line(CRAW, 20)).status_code == 302
    answer = _new(owner_client, _line(CRAW, 21), new_customer="Ash Ferry")
    page = _page(answer)
    assert answer.status_code == 422
    assert "Every mold of" in page and "20 bags lie ready" in page
    again = _new(owner_client, _line(CRAW, 21, really="on"), new_customer="Ash Ferry")
    assert again.status_code == 302


def test_an_order_for_a_color_that_was_put_away_is_asked_about(owner_client, products):
    _molded(products[CRAW])
    Pattern.objects.filter(pk=products[CRAW].contents.get().pattern_id).update(archived=True)
    answer = _new(owner_client, _line(CRAW, 21))
    assert answer.status_code == 422 and "The color" in _page(answer)


def test_the_customer_s_prices_fill_lines_that_name_none(owner_client, products):
    half = PriceList.objects.create(name="Half", percent_off=50)
    known = Customer.objects.create(name="Otter Ferry", price_list=half)
    who = {"customer": str(known.pk), "new_customer": ""}
    look = _new(owner_client, _line(CRAW, 2), button="more", **who)
    # The price is shown in the empty field, and may be written over.
    assert 'placeholder="3.50"' in _page(look) and "So far 2 bags, 7.00 USD" in _page(look)
    _new(owner_client, _line(CRAW, 2), _line(EEL8, 1, "6.00"), **who)
    assert list(Order.objects.get().lines.values_list("price_minor", flat=True)) == [350, 600]


def test_an_open_order_is_changed_but_never_below_what_has_left(owner_client, products):
    customer = Customer.objects.create(name="Otter Ferry")
    lines = [orders.Wanted(products[CRAW], 5), orders.Wanted(products[EEL8], 2)]
    order = orders.take(customer=customer, lines=lines)
    craw = order.lines.get(product=products[CRAW])
    shipping.ship(key=key(), order=order, packed=[shipping.Packed(craw, 3)], by=None)
    url = reverse("order_edit", args=[order.pk])
    page = owner_client.get(url)
    assert (_value(page, "lines-0-product"), _value(page, "lines-0-price")) == (CRAW, "7.00")
    who = {"customer": str(customer.pk), "new_customer": ""}
    few = owner_client.post(url, _data(_line(CRAW, 2), **who))
    assert few.status_code == 422 and "3 have left already" in _page(few)
    gone = owner_client.post(url, _data(_line(EEL8, 2), **who))
    assert gone.status_code == 422 and "the line must stay" in _page(gone)
    owner_client.post(url, _data(_line(CRAW, 4, "6.50"), _line(EEL16, 1), **who))
    kept = order.lines.values_list("product__item__name", "bags", "price_minor", "shipped")
    assert list(kept) == [(CRAW, 4, 650, 3), (EEL16, 1, 1100, 0)]


def test_a_line_below_what_has_left_is_refused_by_the_service_too(products):
    customer = Customer.objects.create(name="Otter Ferry")
    order = orders.take(customer=customer, lines=[orders.Wanted(products[CRAW], 5)])
    shipping.ship(key=key(), order=order, packed=[shipping.Packed(order.lines.get(), 3)], by=None)
    for lines in ([], [orders.Wanted(products[CRAW], 2)]):
        with pytest.raises(orders.OrderError, match="3 bags have left"):
            orders.change(order, customer=customer, lines=lines)
    assert order.lines.get().bags == 5


def test_a_retired_product_stays_in_the_order_that_has_it(owner_client, products, take_order):
    order = take_order((products[CRAW], 5))
    item = products[CRAW].item
    type(item).objects.filter(pk=item.pk).update(archived=True)
    who = {"customer": str(order.customer_id), "new_customer": ""}
    url = reverse("order_edit", args=[order.pk])
    assert owner_client.post(url, _data(_line(CRAW, 4), **who)).status_code == 302
    assert order.lines.get().bags == 4


def test_an_earlier_order_is_repeated_at_today_s_prices(owner_client, products):
    customer = Customer.objects.create(name="Otter Ferry", address="4 Ferry Row")
    lines = [orders.Wanted(products[CRAW], 5, 100, Decimal("2.5"))]
    order = orders.take(
        customer=customer, lines=lines, due_on=timezone.localdate(), ship_to="The pier"
    )
    page = owner_client.get(f"{reverse('order_new')}?again={order.pk}")
    assert (_value(page, "lines-0-product"), _value(page, "lines-0-bags")) == (CRAW, "5")
    assert (_value(page, "lines-0-price"), _value(page, "lines-0-discount")) == ("", "2.5")
    assert f'<option value="{customer.pk}" selected' in _page(page) and "The pier" in _page(page)
    assert _value(page, "due_on") == "" and Order.objects.count() == 1


@pytest.mark.parametrize("again", ["7", "%C2%B2", "9" * 40, ""])
def test_a_mangled_address_opens_an_empty_form(owner_client, shop, again):
    assert owner_client.get(f"{reverse('order_new')}?again={again}").status_code == 200


def test_what_fits_is_offered_while_one_types(owner_client, products):
    half = PriceList.objects.create(name="Half", percent_off=50)
    known = Customer.objects.create(name="Otter Ferry", price_list=half)
    asked = {"lines-3-product": "marsh 1", "customer": known.pk}
    page = _page(owner_client.get(reverse("order_products"), asked | {"lines-3-product": "eel"}))
    assert "<html" not in page and page.index(EEL16) < page.index(EEL8)
    assert 'data-price="3.25"' in page and CRAW not in page
    none = owner_client.get(reverse("order_products"), {"lines-3-product": "<heron>"})
    assert "No product fits “&lt;heron&gt;”" in _page(none)
    assert owner_client.get(reverse("order_products")).status_code == 200


def test_a_helper_takes_no_orders(helper_client, shop):
    assert helper_client.get(reverse("order_products")).status_code == 403
    assert helper_client.post(reverse("order_new")).status_code == 403


def test_the_form_costs_the_same_queries_however_many_products_and_lines(
    owner_client, shop, make_product, django_assert_max_num_queries
):
    def cost(lines):
        with django_assert_max_num_queries(40) as seen:
            data = _data(*[_line(n, 30) for n in lines], button="more")
            owner_client.post(reverse("order_new"), data)
        return len(seen)

    _molded(make_product("Bait 0", bagged=1))
    before = cost(["Bait 0"])
    for number in range(1, 8):
        _molded(make_product(f"Bait {number}", bagged=1))
    assert cost([f"Bait {n}" for n in range(8)]) == before
