"""Orders from a file: columns named once, days asked about, nothing guessed, nothing taken twice."""

import html
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory.exchange import files, table
from inventory.exchange.notation import DAY_FIRST, MONTH_FIRST, Notation
from inventory.exchange.table import FileError
from shop import order_import
from shop.models import Customer, Order, OrderMapping, PriceList, ProductAlias
from shop.services import order_import as service

TODAY = date(2026, 11, 29)
HEAD = "order,date,customer,email,item,qty,price,shipping,note"
MAPPING = {
    "order number": "order",
    "ordered on": "date",
    "customer": "customer",
    "email": "email",
    "product": "item",
    "bags": "qty",
    "price": "price",
    "shipping": "shipping",
    "note": "note",
}


def _read(*lines, notation=None, mapping=None):
    read = files.read("\n".join((HEAD, *lines)).encode())
    chosen = order_import.chosen(read, mapping or MAPPING)
    records = table.records(chosen, order_import.COLUMNS)
    return order_import.read(records, notation or Notation(), TODAY)


def test_lines_of_one_number_are_one_order_and_what_the_first_says_holds_for_all():
    placed, troubles = _read(
        "#1001,2026-11-20,Juniper Vale,j@vale.example,Eel,3,6.50,5.00,Gate code 4417",
        "1001,,,,Craw,2,$7,,",
        "1002,2026-11-21T09:14:00-05:00,Ash Ferry,,Eel,1,,,",
    )
    assert troubles == []
    first, second = placed
    assert (first.reference, first.customer, first.email) == (
        "1001",
        "Juniper Vale",
        "j@vale.example",
    )
    assert (first.ordered_on, first.shipping_minor, first.note) == (
        date(2026, 11, 20),
        500,
        "Gate code 4417",
    )
    assert [(n.product, n.bags, n.price_minor) for n in first.lines] == [
        ("Eel", 3, 650),
        ("Craw", 2, 700),
    ]
    assert (second.ordered_on, second.lines[0].price_minor) == (date(2026, 11, 21), None)


@pytest.mark.parametrize(
    ("line", "column", "said"),
    [
        (",2026-11-20,Vale,,Eel,3,,,", "order number", "names its order"),
        ("1,2026-11-20,,,Eel,3,,,", "customer", "Who ordered it"),
        ("1,2026-11-20,Vale,,,3,,,", "product", "What was ordered"),
        ("1,2026-11-20,Vale,,Eel,,,,", "bags", "How many bags"),
        ("1,2026-11-20,Vale,,Eel,0,,,", "bags", "from 1 to"),
        ("1,2026-11-20,Vale,,Eel,1000000000000,,,", "bags", "from 1 to 100,000"),
        ("1,2026-11-20,Vale,,Eel,1½,,,", "bags", "whole number"),
        ("1,2026-11-20,Vale,,Eel,three,,,", "bags", ""),
        ("1,2026-11-20,Vale,,Eel,3,free,,", "price", "isn't money"),
        ("1,2026-11-20,Vale,,Eel,3,6.505,,", "price", "two decimals"),
        ("1,2026-12-24,Vale,,Eel,3,,,", "ordered on", "still to come"),
        ("1,20/11/26,Vale,,Eel,3,,,", "ordered on", "four digits"),
        ("1,2026-02-30,Vale,,Eel,3,,,", "ordered on", "no day"),
    ],
)
def test_what_is_wrong_is_said_with_its_line_and_column(line, column, said):
    _, troubles = _read("9,2026-11-20,Fine,,Eel,1,,,", line)
    assert [(trouble.line, trouble.column) for trouble in troubles] == [(3, column)]
    assert said in troubles[0].text


def test_two_customers_under_one_number_are_not_one_order():
    _, troubles = _read("1,2026-11-20,Vale,,Eel,3,,,", "1,2026-11-20,Ferry,,Craw,3,,,")
    assert "another customer in line 2" in troubles[0].text


@pytest.mark.parametrize(
    ("first", "day"), [(DAY_FIRST, date(2026, 4, 3)), (MONTH_FIRST, date(2026, 3, 4))]
)
def test_a_day_with_two_readings_is_read_as_was_answered(first, day):
    placed, troubles = _read("1,03/04/2026 10:15 AM,Vale,,Eel,3,,,", notation=Notation(dates=first))
    assert troubles == [] and placed[0].ordered_on == day


def test_days_written_both_ways_in_one_file_are_named_and_never_swapped():
    _, troubles = _read(
        "1,25/04/2026,Vale,,Eel,3,,,",
        "2,04/25/2026,Ferry,,Eel,3,,,",
        notation=Notation(dates=DAY_FIRST),
    )
    assert [trouble.line for trouble in troubles] == [3]
    assert "read day first" in troubles[0].text


def test_headings_are_told_apart_and_guessed_only_by_our_own_words():
    found = order_import.headings(files.read(b"Order ID,Qty,qty,,Weather\n1,2,3,4,5\n"))
    assert [heading.name for heading in found] == [
        "Order ID",
        "Qty",
        "qty again",
        "column 4",
        "Weather",
    ]
    assert order_import.guess(found) == {"order number": "Order ID", "bags": "Qty"}
    assert order_import.fitting({"bags": "QTY", "customer": "Who"}, found) == {"bags": "Qty"}


def test_a_file_without_lines_is_refused():
    with pytest.raises(FileError, match="no line below"):
        order_import.headings(files.read(b"order,qty\n"))


@given(st.lists(st.lists(st.text(alphabet="x1,;\"'=-/ \t☃", max_size=8), max_size=9), max_size=5))
def test_whatever_stands_in_the_cells_is_read_or_named(rows):
    import csv
    import io

    out = io.StringIO()
    csv.writer(out).writerows([HEAD.split(","), ["1", "2026-11-20", "V", "", "E", "1"], *rows])
    read = files.read(out.getvalue().encode())
    chosen = order_import.chosen(read, MAPPING)
    records = table.records(chosen, order_import.COLUMNS)
    placed, troubles = order_import.read(records, Notation(dates=DAY_FIRST), TODAY)
    lines = {line for line, _ in chosen.rows[1:]}
    assert {n.line for order in placed for n in order.lines} | {t.line for t in troubles} == lines


# --- The pages -----------------------------------------------------------------

pages = pytest.mark.django_db
EEL, CRAW = "Reed Eel Marsh Lantern, 8", "Stump Craw Brick Kiln, 5"


@pytest.fixture
def products(shop, make_product):
    return make_product(EEL, price_minor=650), make_product(CRAW, price_minor=700)


def _url():
    return reverse("order_import")


def _send(client, *lines, **typed):
    content = "\n".join((HEAD, *lines)).encode()
    file = SimpleUploadedFile("orders.csv", content, content_type="text/csv")
    return client.post(_url(), {"file": file} | typed)


def _state(answer):
    return html.unescape(re.search(r'name="state" value="([^"]+)"', answer.content.decode())[1])


def _next(client, answer, step, **typed):
    return client.post(_url(), {"state": _state(answer), "step": step} | typed)


def _mapped(client, answer, name="web shop", **instead):
    meanings = {heading: meaning for meaning, heading in MAPPING.items()} | instead
    typed = {f"column-{n}": meanings[each] for n, each in enumerate(HEAD.split(","))}
    return _next(client, answer, "map", name=name, **typed)


def _kept(client, answer):
    seen = re.search(r'name="seen" value="([^"]+)"', answer.content.decode())[1]
    return _next(client, answer, "keep", seen=seen)


def _line(number, name="Juniper Vale", item=f'"{EEL}"', bags=3, price="", day="2026-11-20"):
    return f"{number},{day},{name},,{item},{bags},{price},,"


@pages
def test_a_file_is_mapped_looked_at_and_taken_over(owner_client, products):
    lines = (
        _line(1001, price="6.25"),
        _line(1001, item=f'"{CRAW}"', bags=2),
        _line(1002, "Ash Ferry"),
    )
    answer = _send(owner_client, *lines)
    page = answer.content.decode()
    # The headings that are words of ours are chosen already, and shown.
    assert "What do the columns mean?" in page and '<option value="bags" selected' in page
    look = _mapped(owner_client, answer)
    page = look.content.decode()
    assert look.status_code == 200 and "Take 2 orders over?" in page
    # 3 × 6.25 + 2 × 7.00.
    assert "32.75 USD" in page and not Order.objects.exists()
    assert _kept(owner_client, look).status_code == 302
    first = Order.objects.get(source_reference="1001")
    assert (first.source, first.customer.name, first.ordered_on) == (
        "web shop",
        "Juniper Vale",
        date(2026, 11, 20),
    )
    assert list(first.lines.values_list("bags", "price_minor")) == [(3, 625), (2, 700)]
    assert Order.objects.count() == 2 and Customer.objects.count() == 2


@pages
def test_the_same_file_once_more_changes_nothing_and_says_so(owner_client, products):
    _kept(owner_client, _mapped(owner_client, _send(owner_client, _line(1001))))
    order = Order.objects.get()
    mapping = OrderMapping.objects.get()
    # The columns of a place that is known are not asked about again.
    look = _send(owner_client, _line(1001, bags=9), _line(1002), mapping=mapping.pk)
    page = look.content.decode()
    assert "Take 1 order over?" in page and "1 of the file is here already" in page
    _kept(owner_client, look)
    assert order.lines.get().bags == 3 and Order.objects.count() == 2
    again = _send(owner_client, _line(1001), _line(1002), mapping=mapping.pk)
    assert "Nothing is new" in again.content.decode()


@pages
def test_the_press_repeated_takes_no_order_twice(owner_client, products):
    look = _mapped(owner_client, _send(owner_client, _line(1001)))
    _kept(owner_client, look)
    assert _kept(owner_client, look).status_code == 302
    assert Order.objects.count() == 1


@pages
def test_the_same_number_from_another_place_is_another_order(owner_client, products):
    for name in ("web shop", "club"):
        _kept(owner_client, _mapped(owner_client, _send(owner_client, _line(1001)), name=name))
    assert sorted(Order.objects.values_list("source", flat=True)) == ["club", "web shop"]


@pages
def test_what_others_call_a_product_is_asked_once_and_remembered(owner_client, products):
    eel, _ = products
    lines = (
        _line(1001, item="marsh eel"),
        _line(1001, item="Gift wrap"),
        _line(1002, item="RE-ML-8"),
    )
    asked = _mapped(owner_client, _send(owner_client, *lines))
    page = asked.content.decode()
    assert "Which products are these?" in page and "Fits what is written" in page
    # Its words fit one product: that is offered, and waits for a yes.
    assert f'<option value="{eel.pk}" selected>' in page
    unanswered = _next(owner_client, asked, "products", **{"product-0": eel.pk})
    assert unanswered.status_code == 422 and not Order.objects.exists()
    answers = {"product-0": eel.pk, "product-1": service.SKIP, "product-2": eel.pk}
    look = _next(owner_client, unanswered, "products", **answers)
    page = look.content.decode()
    assert "Take 2 orders over?" in page and "left out: Gift wrap" in page
    _kept(owner_client, look)
    aliases = dict(ProductAlias.objects.values_list("text", "product"))
    assert aliases == {"marsh eel": eel.pk, "RE-ML-8": eel.pk}
    known = OrderMapping.objects.get().pk
    again = _send(owner_client, _line(1003, item="re ml 8"), mapping=known)
    assert "Take 1 order over?" in again.content.decode()


@pages
def test_many_unknown_products_are_asked_about_in_parts(owner_client, products):
    lines = [_line(n, item=f"Trinket {n}") for n in range(service.MOST_ASKED + 5)]
    asked = _mapped(owner_client, _send(owner_client, *lines))
    for count in (service.MOST_ASKED, 5):
        assert asked.content.count(b'<select name="product-') == count
        skip = {f"product-{n}": service.SKIP for n in range(count)}
        asked = _next(owner_client, asked, "products", **skip)
    assert b"Nothing is new" in asked.content and b"Left out altogether" in asked.content


@pages
def test_days_with_two_readings_are_asked_about_and_the_answer_is_kept(owner_client, products):
    lines = (_line(1, day="2026-11-20"), _line(2, day="03/04/2026"))
    asked = _mapped(owner_client, _send(owner_client, *lines))
    assert "Which comes first in the days?" in asked.content.decode()
    unanswered = _next(owner_client, asked, "ask")
    assert unanswered.status_code == 422
    look = _next(owner_client, unanswered, "ask", dates="month")
    assert "4 Mar 2026" in look.content.decode() and "month first" in look.content.decode()
    _kept(owner_client, look)
    known = OrderMapping.objects.get()
    assert known.date_format == "month"
    # Next time it is said, not asked; a day that doesn't fit is named.
    wrong = _send(owner_client, _line(3, day="25/04/2026"), mapping=known.pk)
    page = wrong.content.decode()
    assert wrong.status_code == 422 and "Line 2, ordered on" in page and "month first" in page


@pages
def test_a_comma_in_a_price_is_asked_about(owner_client, products):
    asked = _mapped(owner_client, _send(owner_client, _line(1, price='"6,50"')))
    assert "What does a comma in a figure mean?" in asked.content.decode()
    look = _next(owner_client, asked, "ask", decimal="comma")
    assert "19.50 USD" in look.content.decode()


@pages
def test_columns_that_are_missing_or_chosen_twice_are_said_and_nothing_is_lost(
    owner_client, products
):
    sent = _send(owner_client, _line(1))
    for instead, said in (
        ({"qty": ""}, "Which column is the bags?"),
        ({"note": "bags"}, "is the bags already"),
    ):
        answer = _mapped(owner_client, sent, **instead)
        assert answer.status_code == 422 and said in answer.content.decode()
    assert _mapped(owner_client, sent, name="").status_code == 422
    assert "Take 1 order" in _mapped(owner_client, answer).content.decode()


@pages
def test_a_known_place_whose_columns_changed_is_looked_at_again(owner_client, products):
    columns = MAPPING | {"due on": "wanted by"}
    known = OrderMapping.objects.create(name="club", columns=columns)
    answer = _send(owner_client, _line(1), mapping=known.pk)
    page = answer.content.decode()
    assert "no column “wanted by”" in page and "What do the columns mean?" in page


@pages
def test_troubles_name_their_lines_and_nothing_is_kept(owner_client, products):
    answer = _mapped(owner_client, _send(owner_client, _line(1), _line(2, bags=0)))
    page = answer.content.decode()
    assert answer.status_code == 422 and "Line 3, bags" in page and "1 thing to mend" in page
    assert not Order.objects.exists() and not OrderMapping.objects.exists()


@pages
def test_a_retired_product_is_named_at_its_line(owner_client, products):
    type(products[0].item).objects.filter(pk=products[0].item_id).update(archived=True)
    page = _mapped(owner_client, _send(owner_client, _line(1))).content.decode()
    assert "was put away. Bring it back" in page


@pages
def test_who_is_known_by_email_or_name_is_not_made_anew(owner_client, products):
    half = PriceList.objects.create(name="Half", percent_off=50)
    juniper = Customer.objects.create(name="Juniper Vale", email="J@Vale.example", price_list=half)
    ash = Customer.objects.create(name="Ash Ferry")
    lines = (
        f'1,2026-11-20,J. Vale,j@vale.example,"{EEL}",2,,,',
        f'2,2026-11-20,ash ferry,,"{EEL}",1,,,',
        f'3,2026-11-20,Cal New,c@new.example,"{EEL}",1,,,',
        f'4,2026-11-20,Cal New,,"{EEL}",1,,,',
    )
    look = _mapped(owner_client, _send(owner_client, *lines))
    page = look.content.decode()
    assert "J. Vale has the email of Juniper Vale" in page
    _kept(owner_client, look)
    assert list(Order.objects.order_by("pk").values_list("customer__name", flat=True)) == [
        "Juniper Vale",
        "Ash Ferry",
        "Cal New",
        "Cal New",
    ]
    # No price in the file: the customer's own list, 6.50 less half.
    assert juniper.orders.get().lines.get().price_minor == 325
    assert ash.orders.count() == 1 and Customer.objects.count() == 3


@pages
def test_one_product_under_two_names_becomes_one_line(owner_client, products):
    ProductAlias.objects.create(text="RE-8", product=products[0])
    look = _mapped(owner_client, _send(owner_client, _line(1), _line(1, item="re 8", bags=4)))
    _kept(owner_client, look)
    assert Order.objects.get().lines.get().bags == 7
    wrong = _send(owner_client, _line(2, price="6.00"), _line(2, item="re 8", price="5.00"))
    assert "at two prices" in _mapped(owner_client, wrong).content.decode()


@pages
def test_what_changed_since_the_look_is_not_kept(owner_client, products):
    look = _mapped(owner_client, _send(owner_client, _line(1)))
    type(products[0]).objects.update(price_minor=999)
    answer = _kept(owner_client, look)
    assert answer.status_code == 422 and b"Something changed since you looked" in answer.content
    assert not Order.objects.exists()
    assert _kept(owner_client, answer).status_code == 302


@pages
@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n0000", "picture"),
        (b"order,qty\n", "no line below"),
        (b"a\n" + b"1\n" * 2001, "more than 2,000 lines"),
        (b'a,b\n"1,2\n', "quotation mark"),
    ],
)
def test_a_file_that_can_t_be_read_is_refused_with_the_reason(owner_client, shop, content, said):
    answer = owner_client.post(_url(), {"file": SimpleUploadedFile("a.csv", content)})
    assert answer.status_code == 422 and said in answer.content.decode()


@pages
def test_pasted_lines_are_read_like_a_file(owner_client, products):
    pasted = "\n".join((HEAD, _line(1)))
    answer = owner_client.post(_url(), {"paste": pasted})
    assert "Take 1 order over?" in _mapped(owner_client, answer).content.decode()
    assert owner_client.post(_url(), {}).status_code == 422
    both = _send(owner_client, _line(1), paste=pasted)
    assert both.status_code == 422 and b"not both" in both.content


@pages
@pytest.mark.parametrize("state", ["", "torn", "a:b:c"])
def test_a_page_that_was_torn_asks_for_the_file_again(owner_client, shop, state):
    answer = owner_client.post(_url(), {"state": state, "step": "keep"})
    assert answer.status_code == 422 and b"Choose the file again" in answer.content


@pages
def test_a_long_file_costs_no_more_queries_to_look_at_than_a_short_one(
    owner_client, products, django_assert_max_num_queries
):
    def cost(*lines):
        sent = _send(owner_client, *lines)
        with django_assert_max_num_queries(40) as seen:
            assert b"Take " in _mapped(owner_client, sent).content
        return len(seen)

    short = cost(_line(1))
    assert cost(*(_line(n, f"Vale {n}") for n in range(60))) == short


@pages
def test_a_helper_takes_no_orders_over(helper_client, shop):
    assert helper_client.get(_url()).status_code == 403


@pytest.mark.django_db(transaction=True)
def test_two_presses_at_once_take_each_order_once(shop, make_product):
    make_product(EEL)
    read = files.read("\n".join((HEAD, _line(1001), _line(1002, "Ash Ferry"))).encode())
    chosen = order_import.chosen(read, MAPPING)
    facts = {"source": "web shop", "answers": {}}
    seen = service.review(chosen, Notation(), **facts).digest

    def press(_):
        try:
            load = service.load(chosen, Notation(), columns=MAPPING, seen=seen, by=None, **facts)
            return len(load)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as hands:
        assert sorted(hands.map(press, range(2))) == [0, 2]
    assert Order.objects.count() == Customer.objects.count() == 2
