"""From the list to the order to the shelf: ordered, sent, received in parts, learned from."""

import csv
import io
import re
from datetime import timedelta

import pypdf
import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import audit
from inventory.models import Entry, Lot, PackBreak, PurchaseOrder, PurchaseReceipt
from inventory.services import counts, mending, purchasing, suppliers
from inventory.services.posting import LedgerError
from tests import factories
from tests.factories import key, micro
from tests.inventory.buying import days_ago, make_pack
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
BUYING, ORDERS = reverse("inventory:buying"), reverse("inventory:purchases")


def make_order(item=None, packs=4, on=None, **facts):
    pack = make_pack(item or factories.make_item(name="Copper dusk"), **facts)
    wanted = [purchasing.Wanted(pack, packs, pack.price_minor)]
    return purchasing.order(
        key=key(), supplier=pack.supplier, wanted=wanted, ordered_on=on or days_ago(9)
    )


def came(line, packs, **facts):
    """The part of the form about one line."""
    data = {"packs": str(packs), "amount": "", "lot": "", "expires_on": "", "paid": ""} | facts
    return {f"{line.pk}-{name}": value for name, value in data.items() if value is not None}


def url_of(order, name="purchase"):
    return reverse(f"inventory:{name}", args=[order.pk])


def receive(client, order, packs, status=302, **facts):
    heads = {name: facts.pop(name) for name in ("received_on", "really", "key") if name in facts}
    data = {"key": key(), "received_on": "", "note": "", **heads}
    response = client.post(
        url_of(order, "purchase_receive"), data | came(order.lines.get(), packs, **facts)
    )
    assert response.status_code == status
    return response


def test_the_list_becomes_an_order_in_one_step(owner_client):
    item = factories.make_item(name="Copper dusk", minimum=micro(30), target=micro(300))
    seller = factories.make_supplier(lead_time_days=6, shipping_minor=700)
    pack = make_pack(item, seller)
    data = {"key": key(), f"packs-{pack.pk}": "3", f"notes-{seller.pk}": "Blue caps"}
    data["do"] = f"order:{seller.pk}"
    response = owner_client.post(BUYING, data)
    order = PurchaseOrder.objects.get()
    assert response.url == url_of(order)
    assert order.expected_on == order.ordered_on + timedelta(days=6)
    assert (order.lines.get().packs, order.shipping_minor, order.notes) == (3, 700, "Blue caps")
    # Pressed twice: still one order.
    owner_client.post(BUYING, data)
    assert PurchaseOrder.objects.count() == 1
    # What is on order is not bought again.
    assert "Nothing is low" in page(owner_client, BUYING)
    assert order.number in page(owner_client, BUYING)


def test_changing_a_number_counts_again_and_orders_nothing(owner_client):
    item = factories.make_item(name="Copper dusk", minimum=micro(30), target=micro(300))
    pack = make_pack(item, breaks=[(10, 400)])
    data = {"key": key(), f"packs-{pack.pk}": "10"}
    text = owner_client.post(BUYING, data).content.decode()
    assert "40.00 USD" in text
    assert 'value="10"' in text
    assert not PurchaseOrder.objects.exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("-1", "less than zero"),
        ("1.5", "whole number"),
        ("many", "number"),
        ("1e309", ""),
        ("99999", "at most"),
    ],
)
def test_a_number_of_packs_that_makes_no_sense_is_told_beside_it(owner_client, typed, says):
    pack = make_pack(factories.make_item(minimum=micro(30)))
    data = {"key": key(), f"packs-{pack.pk}": typed, "do": f"order:{pack.supplier_id}"}
    response = owner_client.post(BUYING, data)
    assert response.status_code == 422
    assert says in response.content.decode()
    assert f'value="{typed}"' in response.content.decode()
    assert not PurchaseOrder.objects.exists()


def test_numbers_typed_for_another_supplier_stay_while_one_is_counted_or_refused(owner_client):
    packs = []
    for name in ("Heron", "Alder"):
        item = factories.make_item(name=f"{name} dusk", minimum=micro(30), target=micro(300))
        packs.append(make_pack(item, name))
    heron, alder = packs
    data = {"key": key(), f"packs-{heron.pk}": "7", f"packs-{alder.pk}": "5"}
    data |= {f"notes-{heron.supplier_id}": "Blue caps", "do": "count"}
    text = owner_client.post(BUYING, data).content.decode()
    assert text.count("<form") == page(owner_client, BUYING).count("<form")
    for pack, count in ((heron, 7), (alder, 5)):
        assert re.search(rf'name="packs-{pack.pk}" value="{count}"', text)
    assert 'value="Blue caps"' in text
    # A slip in one supplier's numbers does not keep another's order back.
    wrong = data | {f"packs-{alder.pk}": "many"}
    refused = owner_client.post(BUYING, wrong | {"do": f"order:{alder.supplier_id}"})
    assert refused.status_code == 422
    assert f'name="packs-{heron.pk}" value="7"' in refused.content.decode()
    assert (
        owner_client.post(BUYING, wrong | {"do": f"order:{heron.supplier_id}"}).status_code == 302
    )
    assert PurchaseOrder.objects.get().lines.get().packs == 7
    # The same page's key gives the other supplier an order of its own.
    owner_client.post(BUYING, data | {"do": f"order:{alder.supplier_id}"})
    assert PurchaseOrder.objects.count() == 2


def test_an_order_of_nothing_and_one_under_the_least_number_are_refused(owner_client):
    pack = make_pack(factories.make_item(minimum=micro(30)), least=3)
    data = {"key": key(), "do": f"order:{pack.supplier_id}"}
    response = owner_client.post(BUYING, {**data, f"packs-{pack.pk}": "0"})
    assert "Nothing is on this order" in response.content.decode()
    response = owner_client.post(BUYING, {**data, f"packs-{pack.pk}": "2"})
    assert "sells at least 3 at once" in response.content.decode()
    assert not PurchaseOrder.objects.exists()


def test_under_the_least_order_is_a_question(owner_client):
    seller = factories.make_supplier(order_minimum_minor=5000)
    pack = make_pack(factories.make_item(minimum=micro(30)), seller)
    data = {"key": key(), f"packs-{pack.pk}": "3", "do": f"order:{seller.pk}"}
    response = owner_client.post(BUYING, data)
    assert response.status_code == 422
    text = response.content.decode()
    assert "35.00 USD under" in text and "Yes, really" in text
    assert owner_client.post(BUYING, {**data, "really": "on"}).status_code == 302


def test_an_order_is_sent_as_text_file_and_paper(owner_client, shop):
    order = make_order(factories.make_item(name='=HYPERLINK("x")'), name="@box")
    text = page(owner_client, url_of(order))
    assert "4 × @box" in text and "20.00 USD" in text and shop.name in text
    answer = owner_client.get(url_of(order, "purchase_csv"))
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0]["item"].startswith("'=") and rows[0]["pack"] == "'@box"
    assert rows[0]["sum"] == "20.00"
    answer = owner_client.get(url_of(order, "purchase_pdf"))
    paper = pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert order.number in paper and "Gray Heron Supply" in paper


def test_goods_come_in_parts_each_with_its_lot_and_price(owner_client):
    order = make_order(packs=4)
    line = order.lines.get()
    receive(owner_client, order, 3, lot="GH-81", paid="16.50")
    lot = Lot.objects.get()
    assert (lot.supplier_lot, lot.supplier, lot.on_hand) == ("GH-81", order.supplier, micro(300))
    assert lot.cost == micro("16.50")
    assert [one.received for one in purchasing.missing(order)] == [micro(300)]
    order.refresh_from_db()
    assert order.state == "open"
    assert "100 mL" in page(owner_client, url_of(order))
    receive(owner_client, order, "", amount="100 mL")
    order.refresh_from_db()
    assert order.state == "received"
    assert PurchaseReceipt.objects.filter(line=line).count() == 2
    # As ordered, where no price was typed: 100 mL at 5.00 for 100 mL.
    assert Lot.objects.order_by("pk").last().cost == micro("5.00")
    assert list(audit.findings()) == []


def test_more_than_ordered_is_a_question_and_leaves_a_mark(owner_client):
    order = make_order(packs=4)
    response = receive(owner_client, order, 5, status=422)
    assert "100 mL more than the 400 mL ordered" in response.content.decode()
    assert 'value="5"' in response.content.decode()
    assert not Entry.objects.exists()
    receive(owner_client, order, 5, really="on")
    assert "100 mL Copper dusk more than" in Entry.objects.get().look_at


@pytest.mark.parametrize(
    ("facts", "field", "says"),
    [
        ({"received_on": "2999-01-01"}, "received_on", "in the future"),
        ({"received_on": str(days_ago(20))}, "received_on", "ordered on"),
        ({"received_on": "soon"}, "received_on", "year-month-day"),
        ({"packs": "-2"}, "packs", "less than zero"),
        ({"packs": "", "amount": "3 lb"}, "amount", ""),
        ({"packs": "2", "amount": "50 mL"}, "amount", "not both"),
        ({"paid": "NaN"}, "paid", ""),
        ({"packs": ""}, None, "Nothing came?"),
    ],
)
def test_a_receipt_that_makes_no_sense_is_told_at_its_field(owner_client, facts, field, says):
    order = make_order()
    facts = dict(facts)
    packs = facts.pop("packs", "4")
    form = receive(owner_client, order, packs, status=422, **facts).context["form"]
    name = field if field in (None, "received_on") else f"{order.lines.get().pk}-{field}"
    errors = form.errors["__all__" if name is None else name]
    assert says in " ".join(errors)
    assert not Entry.objects.exists()


def test_the_same_press_twice_receives_once(owner_client):
    order, once = make_order(), key()
    for _ in range(2):
        receive(owner_client, order, 2, key=once)
    assert Lot.objects.get().on_hand == micro(200)
    assert PurchaseReceipt.objects.count() == 1


def test_an_undone_receipt_opens_its_order_again_and_a_mended_one_counts_as_mended(owner_client):
    order = make_order()
    receive(owner_client, order, 4)
    lot = Lot.objects.get()
    mending.amend_receipt(key=key(), lot=lot, quantity=micro(300), cost=None, by=None)
    assert purchasing.missing(order)[0].received == micro(300)
    entry = Entry.objects.filter(kind="receipt", reversed_by=None).get()
    counts.undo(key=key(), entry=entry, by=None)
    assert purchasing.missing(order)[0].received == 0
    receive(owner_client, make_order(factories.make_item(name="Pond green")), 4)
    again = PurchaseOrder.objects.exclude(pk=order.pk).get()
    assert again.state == "received"
    counts.undo(key=key(), entry=again.lines.get().receipts.get().entry, by=None)
    again.refresh_from_db()
    assert again.state == "open"
    assert "undone" in page(owner_client, url_of(again))


def test_the_rest_that_never_comes_no_longer_counts_as_on_order(owner_client):
    order = make_order()
    receive(owner_client, order, 1)
    owner_client.post(url_of(order, "purchase_state"), {"to": "close"})
    order.refresh_from_db()
    assert order.state == "received"
    owner_client.post(url_of(order, "purchase_state"), {"to": "reopen"})
    order.refresh_from_db()
    assert order.state == "open"
    other = make_order(factories.make_item(name="Pond green"))
    owner_client.post(url_of(other, "purchase_state"), {"to": "close"})
    other.refresh_from_db()
    assert other.state == "cancelled"
    form = owner_client.get(url_of(other, "purchase_receive")).context["form"]
    assert "was cancelled" in receive(owner_client, other, 1, status=422).content.decode()
    assert form.groups()


def test_another_day_is_expected_but_none_before_the_order(owner_client):
    order = make_order()
    url = url_of(order)
    response = owner_client.post(url, {"expected_on": str(days_ago(30)), "notes": ""})
    assert response.status_code == 422
    assert "before it was ordered" in response.content.decode()
    later = timezone.localdate() + timedelta(days=30)
    owner_client.post(url, {"expected_on": str(later), "notes": "Back order"})
    order.refresh_from_db()
    assert (order.expected_on, order.notes) == (later, "Back order")


def test_a_price_is_kept_with_its_pack_by_a_tick(owner_client):
    order = make_order()
    pack = order.lines.get().pack
    receive(owner_client, order, 2, paid="11")
    pack.refresh_from_db()
    assert pack.price_minor == 500
    receive(owner_client, order, 2, paid="11", keep="on")
    pack.refresh_from_db()
    assert pack.price_minor == 550


def test_the_price_of_a_break_that_was_reached_is_kept_with_the_break(owner_client):
    order = make_order(packs=10, breaks=[(5, 450)])
    receive(owner_client, order, 10, paid="42", keep="on")
    assert PackBreak.objects.get().price_minor == 420
    assert order.lines.get().pack.price_minor == 500


def test_three_deliveries_teach_how_long_a_supplier_takes(owner_client):
    seller = factories.make_supplier(lead_time_days=4)
    url = reverse("inventory:supplier_edit", args=[seller.pk])
    for number, days in enumerate((12, 7, 9)):
        assert "Count with" not in page(owner_client, url)
        item = factories.make_item(name=f"Dusk {number}")
        receive(owner_client, make_order(item, on=days_ago(days), supplier=seller), 4)
    # The middle one of 7, 9 and 12.
    assert "Count with 9 days" in page(owner_client, url)
    owner_client.post(reverse("inventory:supplier_lead", args=[seller.pk]))
    seller.refresh_from_db()
    assert seller.lead_time_days == 9


def test_a_pack_that_is_forgotten_leaves_its_name_on_the_order(owner_client):
    order = make_order()
    suppliers.drop_pack(order.lines.get().pack)
    assert "4 × 100 bottle" in page(owner_client, url_of(order))
    receive(owner_client, order, 4)


def test_an_order_takes_only_its_suppliers_packs(db):
    pack = make_pack(factories.make_item())
    other = factories.make_supplier("Blue Kettle Pigments")
    with pytest.raises(LedgerError, match="not sold by"):
        purchasing.order(
            key=key(),
            supplier=other,
            wanted=[purchasing.Wanted(pack, 1, 500)],
            ordered_on=days_ago(0),
        )


def test_purchases_are_the_owners_and_say_what_to_do_when_there_are_none(
    owner_client, helper_client
):
    assert BUYING in page(owner_client, ORDERS)
    order = make_order()
    names = ("purchase", "purchase_receive", "purchase_pdf", "purchase_csv")
    for url in [ORDERS, BUYING, *(url_of(order, name) for name in names)]:
        assert helper_client.get(url).status_code == 403
    for name in names:
        missing = reverse(f"inventory:{name}", args=[order.pk + 1])
        assert owner_client.get(missing).status_code == 404


def test_the_pages_take_as_many_queries_for_20_orders_as_for_10(owner_client):
    for number in range(10):
        receive(owner_client, make_order(factories.make_item(name=f"Dusk {number}")), 1)
    urls = [ORDERS, BUYING]
    ten = [queries_of(owner_client, url) for url in urls]
    for number in range(10, 20):
        receive(owner_client, make_order(factories.make_item(name=f"Dusk {number}")), 1)
    assert [queries_of(owner_client, url) for url in urls] == ten


def test_the_audit_tells_a_receipt_that_its_entry_does_not_bear_out(owner_client):
    order = make_order()
    receive(owner_client, order, 4)
    PurchaseReceipt.objects.update(quantity=micro(5))
    assert "did not bring in" in " ".join(audit.findings())
