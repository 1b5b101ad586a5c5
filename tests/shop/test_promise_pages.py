"""The pages of a promise and of holds, as a browser without scripts sees them."""

import datetime
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Reservation
from shop.models import Customer, Order
from shop.services import holds
from tests import factories
from tests.shop.promising import Shelf

pytestmark = pytest.mark.django_db


def _page(client, name, *args, **query) -> str:
    answer = client.get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return answer.content.decode()


def _bagged(product, count):
    return factories.make_lot(product.item, count, 5)


def test_an_order_that_fits_says_yes_with_the_day(owner_client):
    shelf = Shelf()
    _bagged(shelf.pale, 2)
    order = shelf.order((shelf.pale, 5))
    page = _page(owner_client, "order_promise", order.pk)
    tomorrow = timezone.localdate() + datetime.timedelta(days=1)
    assert f"can be ready by <strong>{tomorrow:%a} {tomorrow.day}" in page
    assert "2 bagged" in page and "3 to pour, ready" in page
    assert "Work out the best part" not in page
    assert re.search(
        r'<svg class="promise-bar"[^>]*aria-label="Reed Eel, Pale, 3: 2 bagged, 3', page
    )
    assert "Hello Juniper Vale," in page


def test_an_order_that_does_not_fit_answers_at_once_and_works_out_the_rest_behind_a_link(
    owner_client,
):
    shelf = Shelf(moss=10, minutes=180)
    order = shelf.order((shelf.pale, 10), (shelf.deep, 10))
    page = _page(owner_client, "order_promise", order.pk)
    assert "Work out the best part" in page and 'hx-trigger="load"' in page
    full = _page(owner_client, "order_promise", order.pk, full=1)
    assert "Work out the best part" not in full
    assert "Moss tint" in full and "0.045 fl oz" in full or "1.32 mL" in full
    assert "Most value" in full and "Fill this line first" in full
    ranked = _page(
        owner_client, "order_promise", order.pk, full=1, worth="rank", first=shelf.deep.pk
    )
    assert ranked.index("Reed Eel, Deep, 3") < ranked.index("Reed Eel, Pale, 3")


def test_a_helper_sees_the_promise_and_no_money(helper_client):
    shelf = Shelf(moss=1)
    order = shelf.order((shelf.deep, 50))
    page = _page(helper_client, "order_promise", order.pk, full=1)
    assert "comes to" not in page and "Buy what is short" not in page


def test_only_an_open_order_is_asked_about(owner_client):
    shelf = Shelf()
    order = shelf.order((shelf.pale, 1))
    Order.objects.update(status=Order.Status.CANCELLED)
    assert owner_client.get(reverse("order_promise", args=[order.pk])).status_code == 404
    assert owner_client.get(reverse("order_promise", args=[999])).status_code == 404


@pytest.mark.parametrize(
    "query",
    [
        "",
        "line=1",
        "line=1x0",
        "line=1x1000000000000",
        "line=x3",
        "line=1x²",
        "line=99999x3",
        "line=1x3&due=soon",
        "line=1x3&worth=luck",
        "line=99999999999999999999x3",
    ],
)
def test_lines_that_nobody_wrote_are_not_found(owner_client, query):
    Shelf()
    assert owner_client.get(f"{reverse('promise_new')}?{query}").status_code == 404


def test_what_is_being_typed_is_checked_and_kept(owner_client):
    shelf = Shelf()
    _bagged(shelf.pale, 2)
    customer = Customer.objects.create(name="Juniper Vale")
    data = {
        "customer": str(customer.pk),
        "notes": "Gate code 4417",
        "due_on": (timezone.localdate() + datetime.timedelta(days=3)).isoformat(),
        "lines-TOTAL_FORMS": "4",
        "lines-INITIAL_FORMS": "0",
        "lines-0-product": "eel pale",
        "lines-0-bags": "5",
        "check": "1",
    }
    answer = owner_client.post(reverse("order_new"), data)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "2 bagged" in page and "3 to pour" in page and "Gate code 4417" in page
    assert not Order.objects.exists()
    empty = owner_client.post(reverse("order_new"), data | {"lines-0-product": ""})
    assert "then it can be checked" in empty.content.decode()


def test_what_is_typed_and_does_not_fit_leads_to_the_whole_answer(owner_client):
    shelf = Shelf(moss=1)
    data = {
        "new_customer": "Juniper Vale",
        "lines-TOTAL_FORMS": "1",
        "lines-INITIAL_FORMS": "0",
        "lines-0-product": str(shelf.deep),
        "lines-0-bags": "50",
        "check": "1",
    }
    page = owner_client.post(reverse("order_new"), data).content.decode()
    url = re.search(r'hx-get="([^"]+)"', page.split('id="promise"')[1])[1].replace("&amp;", "&")
    answer = owner_client.get(url)
    assert answer.status_code == 200 and b"Moss tint" in answer.content


def test_the_most_of_a_product_by_a_day(owner_client):
    shelf = Shelf(moss=1)
    url = reverse("product_most", args=[shelf.deep.pk])
    tomorrow = timezone.localdate() + datetime.timedelta(days=1)
    page = owner_client.get(url, {"by": tomorrow.isoformat()}).content.decode()
    # 1 mL of moss is 26 mL of Deep: one shot, 3 good baits, one bag
    assert '<strong class="promise-most">1</strong>' in page and "Moss tint" in page
    for day, words in (
        ("2020-01-01", "has passed"),
        ("2999-01-01", "a year ahead"),
        ("x", "Write"),
    ):
        answer = owner_client.get(url, {"by": day})
        assert answer.status_code == 422 and words in answer.content.decode()


def test_the_order_page_says_where_each_bag_stands(helper_client):
    shelf = Shelf(base=0, moss=0)
    _bagged(shelf.pale, 5)
    order = shelf.order((shelf.pale, 8))
    holds.hold_line(order.lines.get(), 3)
    page = _page(helper_client, "order", order.pk)
    assert "3 held for it" in page and "2 bagged" in page and "3 short" in page
    assert "Hold what is bagged" in page and "Give back what is held" in page


def test_bags_are_held_and_given_back_in_one_press(helper_client):
    shelf = Shelf()
    _bagged(shelf.pale, 5)
    order = shelf.order((shelf.pale, 3))
    page = helper_client.post(reverse("order_hold_all", args=[order.pk]), follow=True)
    assert "3 bags held" in page.content.decode()
    again = helper_client.post(reverse("order_hold_all", args=[order.pk]), follow=True)
    assert "no bag was held" in again.content.decode()
    back = helper_client.post(reverse("order_release", args=[order.pk]), follow=True)
    assert "3 bags given back" in back.content.decode()
    assert not Reservation.objects.exists()


def test_the_lots_that_are_held_are_chosen(helper_client):
    shelf = Shelf()
    first, second = _bagged(shelf.pale, 3), _bagged(shelf.pale, 4)
    order = shelf.order((shelf.pale, 5))
    url = reverse("order_hold", args=[order.pk])
    helper_client.post(url, {f"lot-{first.pk}": "1", f"lot-{second.pk}": "4"})
    assert sorted(Reservation.objects.values_list("lot", "quantity")) == [
        (first.pk, 1_000_000),
        (second.pk, 4_000_000),
    ]
    for typed, words in (
        ({f"lot-{first.pk}": "3", f"lot-{second.pk}": "4"}, "only 5 are still to be sent"),
        ({f"lot-{second.pk}": "5"}, "at most 4"),
        ({f"lot-{second.pk}": "1.5"}, "whole number"),
    ):
        answer = helper_client.post(url, typed)
        assert answer.status_code == 422 and words in answer.content.decode()
    assert Reservation.objects.count() == 2


def test_a_lost_hold_is_said_on_the_order_until_someone_looked(helper_client):
    shelf = Shelf()
    order = shelf.order((shelf.pale, 3))
    Order.objects.filter(pk=order.pk).update(look_at="On 3 Dec it lost a hold on 2.")
    assert "lost a hold" in _page(helper_client, "order", order.pk)
    helper_client.post(reverse("order_seen", args=[order.pk]))
    assert "lost a hold" not in _page(helper_client, "order", order.pk)


def test_the_pages_cost_the_same_queries_however_long(owner_client, django_assert_max_num_queries):
    shelf = Shelf()
    pages = ("order", "order_promise", "order_hold")

    def cost(order) -> list[int]:
        found = []
        for name in pages:
            with django_assert_max_num_queries(80) as seen:
                _page(owner_client, name, order.pk)
            found.append(len(seen))
        return found

    _bagged(shelf.deep, 1)
    shelf.order((shelf.deep, 1), ago=3)
    _bagged(shelf.pale, 3)
    before = cost(shelf.order((shelf.pale, 2), (shelf.deep, 1)))
    for number in range(5):
        dye = factories.make_item(name=f"Dye {number}")
        factories.make_lot(dye, 50)
        factories.make_recipe(f"Color {number}", grade=shelf.base, doses={dye: 1})
    many = [shelf.product(f"Color {number}") for number in range(5)]
    for product in many:
        _bagged(product, 1)
        shelf.order((product, 3), ago=1)
    after = cost(shelf.order(*[(product, 2) for product in [shelf.pale, shelf.deep, *many]]))
    assert after == before


def test_what_is_missing_goes_to_the_plan_of_an_evening_in_one_press(owner_client):
    shelf = Shelf()
    order = shelf.order((shelf.pale, 5))
    page = _page(owner_client, "order_promise", order.pk)
    url = re.search(r'href="([^"]*plan/new[^"]*|[^"]*make=[^"]*)"', page)[1].replace("&amp;", "&")
    plan = owner_client.get(url).content.decode()
    ticked = re.search(rf'<input[^>]*name="order-{shelf.pale.pk}-make"[^>]*>', plan)[0]
    assert "checked" in ticked
    assert re.search(rf'name="order-{shelf.pale.pk}-bags" value="5"', plan)
    # what no order wants is filled in as a line of its own; nonsense is passed over
    other = url.split("?")[0] + f"?make={shelf.deep.pk}:7&make=x:2&make=1:²"
    plan = owner_client.get(other).content.decode()
    assert re.search(r'name="product-0-bags" value="7"', plan)
