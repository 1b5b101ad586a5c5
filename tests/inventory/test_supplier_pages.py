"""Suppliers and the packs they sell."""

import pytest
from django.urls import reverse

from inventory.models import Pack, Supplier
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
LIST = reverse("inventory:suppliers")
NEW = reverse("inventory:supplier_new")
FACTS = {"name": "Gray Heron Supply", "lead_time_days": "9"}


def test_an_empty_list_says_what_to_do(owner_client):
    assert NEW in page(owner_client, LIST)


def test_a_supplier_is_written_down_and_changed(owner_client):
    owner_client.post(NEW, {**FACTS, "order_minimum_minor": "50", "shipping_minor": "12.50"})
    supplier = Supplier.objects.get()
    assert (supplier.order_minimum_minor, supplier.shipping_minor) == (5000, 1250)
    assert "50.00 USD" in page(owner_client, LIST)
    url = reverse("inventory:supplier_edit", args=[supplier.pk])
    assert 'value="12.50"' in page(owner_client, url)
    owner_client.post(url, {**FACTS, "lead_time_days": "4"})
    supplier.refresh_from_db()
    assert (supplier.lead_time_days, supplier.shipping_minor) == (4, 0)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("name", ""),
        ("email", "heron"),
        ("lead_time_days", "9.5"),
        ("lead_time_days", "-1"),
        ("lead_time_days", ""),
        ("lead_time_days", "1e309"),
        ("order_minimum_minor", "NaN"),
        ("shipping_minor", "12,50"),
        ("shipping_minor", "1.999"),
    ],
)
def test_a_wrong_fact_is_refused_at_its_field_and_kept(owner_client, field, text):
    response = owner_client.post(NEW, {**FACTS, "notes": "ask for Rue", field: text})
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert "ask for Rue" in response.content.decode()
    assert not text or f'value="{text}"' in response.content.decode()
    assert not Supplier.objects.exists()


@pytest.mark.parametrize(
    ("text", "says"), [("", "Fill this in"), ("-1", "less than zero"), ("9.5", "whole number")]
)
def test_days_that_make_no_sense_say_how_to_mend_them(owner_client, text, says):
    form = owner_client.post(NEW, {**FACTS, "lead_time_days": text}).context["form"]
    assert says in " ".join(form.errors["lead_time_days"])


def test_a_supplier_without_packs_is_never_bought_from_and_says_what_to_do(owner_client):
    factories.make_supplier("Blue Kettle Pigments")
    factories.make_item(name="Copper dusk", minimum=30_000_000)
    assert "none: add one at its item" in page(owner_client, reverse("inventory:suppliers"))
    buying = page(owner_client, reverse("inventory:buying"))
    assert "Blue Kettle" not in buying and "Add a pack" in buying


def test_two_suppliers_of_one_name_are_refused(owner_client):
    owner_client.post(NEW, FACTS)
    assert owner_client.post(NEW, FACTS).status_code == 422
    other = factories.make_supplier("Blue Kettle Pigments")
    url = reverse("inventory:supplier_edit", args=[other.pk])
    response = owner_client.post(url, FACTS)
    assert response.status_code == 422
    assert "<h1>Blue Kettle Pigments</h1>" in response.content.decode()


def test_a_pack_is_added_in_any_unit_and_removed(owner_client):
    item = factories.make_item(name="Copper dusk")
    supplier = factories.make_supplier()
    url = reverse("inventory:pack_new", args=[item.pk])
    assert "Add a pack of Copper dusk" in page(owner_client, url)
    facts = {"supplier": supplier.pk, "name": "4 fl oz bottle", "price_minor": "6.50"}
    response = owner_client.post(url, {**facts, "quantity": "4 fl oz"})
    assert response.url == reverse("inventory:item", args=[item.pk])
    pack = Pack.objects.get()
    # Four US fluid ounces are 118.29411825 mL: NIST Handbook 44, appendix C.
    assert (pack.quantity, pack.price_minor) == (118_294_118, 650)
    assert "4 fl oz bottle" in page(owner_client, response.url)
    assert "4 fl oz bottle" in page(
        owner_client, reverse("inventory:supplier_edit", args=[supplier.pk])
    )
    remove = reverse("inventory:pack_delete", args=[pack.pk])
    assert "Remove this pack?" in page(owner_client, remove)
    assert Pack.objects.exists()
    assert owner_client.post(remove).url == response.url
    assert not Pack.objects.exists()


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("quantity", "0"),
        ("quantity", "4 g"),
        ("quantity", "1,5"),
        ("price_minor", "-1"),
        ("name", ""),
    ],
)
def test_a_pack_that_makes_no_sense_is_refused(owner_client, field, text):
    item = factories.make_item()
    facts = {
        "supplier": factories.make_supplier().pk,
        "name": "bottle",
        "quantity": "118",
        "price_minor": "6.50",
        field: text,
    }
    response = owner_client.post(reverse("inventory:pack_new", args=[item.pk]), facts)
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert not Pack.objects.exists()


def test_the_same_pack_twice_is_refused(owner_client):
    item = factories.make_item()
    url = reverse("inventory:pack_new", args=[item.pk])
    facts = {
        "supplier": factories.make_supplier().pk,
        "name": "bottle",
        "quantity": "118",
        "price_minor": "6.50",
    }
    owner_client.post(url, facts)
    assert owner_client.post(url, facts).status_code == 422
    assert Pack.objects.count() == 1


def test_without_suppliers_a_pack_says_what_comes_first(owner_client):
    item = factories.make_item()
    assert NEW in page(owner_client, reverse("inventory:pack_new", args=[item.pk]))


@pytest.mark.parametrize("name", ["supplier_edit", "pack_new", "pack_delete"])
def test_unknown_numbers_are_not_found(owner_client, name):
    page(owner_client, reverse(f"inventory:{name}", args=[999]), 404)


def test_the_list_takes_as_many_queries_for_20_suppliers_as_for_10(owner_client):
    for number in range(10):
        factories.make_supplier(f"Supplier {number}")
    ten = queries_of(owner_client, LIST)
    for number in range(10, 20):
        factories.make_supplier(f"Supplier {number}")
    assert queries_of(owner_client, LIST) == ten


PACK = {"name": "4 fl oz bottle", "quantity": "4 fl oz", "price_minor": "6.50"}


def test_a_pack_has_price_breaks_and_a_least_number_and_can_be_changed(owner_client):
    item, supplier = factories.make_item(name="Copper dusk"), factories.make_supplier()
    url = reverse("inventory:pack_new", args=[item.pk])
    data = {**PACK, "supplier": supplier.pk, "breaks": "10: 5.90, 25: 5.40", "least": "2"}
    owner_client.post(url, data)
    pack = Pack.objects.get()
    assert pack.least == 2
    assert list(pack.breaks.values_list("from_packs", "price_minor")) == [(10, 590), (25, 540)]
    edit = reverse("inventory:pack_edit", args=[pack.pk])
    assert "10: 5.90, 25: 5.40" in page(owner_client, edit)
    assert owner_client.post(edit, {**data, "breaks": "5: 6", "least": ""}).status_code == 302
    pack.refresh_from_db()
    assert (pack.least, pack.breaks.get().price_minor) == (1, 600)


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("breaks", "10", "has no price"),
        ("breaks", "ten: 5", "can't be read"),
        ("breaks", "10: 7", "less than 6.50"),
        ("breaks", "10: 6, 5: 5", "rising order"),
        ("breaks", "1: 6", "from 2 on"),
        ("breaks", "2.5: 6", "whole number"),
        ("breaks", "10: 5.999", "two decimals"),
        ("least", "0", "at least 1"),
        ("quantity", "0 mL", "more than zero"),
        ("price_minor", "0", "Nothing to pay?"),
    ],
)
def test_terms_of_a_pack_that_make_no_sense_are_told_at_their_field(
    owner_client, field, text, says
):
    item, supplier = factories.make_item(), factories.make_supplier()
    url = reverse("inventory:pack_new", args=[item.pk])
    response = owner_client.post(url, {**PACK, "supplier": supplier.pk, field: text})
    assert response.status_code == 422
    assert says in " ".join(response.context["form"].errors[field])
    assert not Pack.objects.exists()


def test_a_free_pack_is_a_question_and_two_packs_alike_are_refused(owner_client):
    item, supplier = factories.make_item(), factories.make_supplier()
    url = reverse("inventory:pack_new", args=[item.pk])
    data = {**PACK, "supplier": supplier.pk, "price_minor": "0"}
    assert owner_client.post(url, {**data, "really": "on"}).status_code == 302
    response = owner_client.post(url, {**data, "price_minor": "6"})
    assert "already sells" in " ".join(response.context["form"].errors["name"])


def test_shipping_that_is_free_from_a_sum_costs_something_below_it(owner_client):
    response = owner_client.post(NEW, {**FACTS, "free_shipping_minor": "75"})
    assert list(response.context["form"].errors) == ["shipping_minor"]
    owner_client.post(NEW, {**FACTS, "free_shipping_minor": "75", "shipping_minor": "9"})
    assert Supplier.objects.get().free_shipping_minor == 7500
