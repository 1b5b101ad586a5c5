"""Measuring a drop of a colorant: by weight, by count, for the item or for one bottle."""

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Lot
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db


def _dye(**facts):
    return factories.make_item(name="Copper dusk", **facts)


def _url(item):
    return reverse("inventory:drop_size", args=[item.pk])


def _send(client, item, status=302, **data):
    data = {"way": "weigh", "drops": "50", "keep_on": ""} | data
    response = client.post(_url(item), data)
    assert response.status_code == status
    return response.content.decode()


def test_a_colorants_page_leads_to_measuring_a_drop(owner_client, helper_client, shop):
    dye, flake = _dye(), factories.make_flake()
    url = reverse("inventory:item", args=[dye.pk])
    assert _url(dye) in page(owner_client, url)
    assert _url(dye) not in page(helper_client, url)
    assert _url(flake) not in page(owner_client, reverse("inventory:item", args=[flake.pk]))
    page(owner_client, _url(flake), status=404)


def test_fifty_weighed_drops_give_the_items_drop_size(owner_client, shop):
    dye = _dye(density_g_per_ml=Decimal("0.98"))
    _send(owner_client, dye, grams="1.05")
    dye.refresh_from_db()
    assert dye.ml_per_drop == Decimal("0.021429")  # 1.05 / 0.98 / 50, by hand
    assert "0.021429 mL" in page(owner_client, reverse("inventory:item", args=[dye.pk]))


def test_drops_counted_into_a_syringe_are_kept_on_one_bottle_only(owner_client, shop):
    dye = _dye(ml_per_drop=Decimal("0.05"))
    lot, other = factories.make_lot(dye, 30), factories.make_lot(dye, 60)
    assert "selected" in page(owner_client, _url(dye), lot=lot.pk)
    _send(owner_client, dye, way="count", drops="44", ml="1", keep_on=lot.pk)
    lot, other = Lot.objects.get(pk=lot.pk), Lot.objects.get(pk=other.pk)
    assert lot.ml_per_drop == Decimal("0.022727")
    assert other.ml_per_drop is None
    assert lot.item.ml_per_drop == Decimal("0.05")
    assert lot.item.to_stock(Decimal(10), "drop", lot) == factories.micro("0.22727")


def test_weighing_without_a_density_names_what_is_missing(owner_client, shop):
    dye = _dye()
    text = _send(owner_client, dye, status=422, grams="1.05")
    assert "density of Copper dusk is needed" in text
    assert 'value="1.05"' in text


def test_a_thinned_bottle_is_not_weighed_by_the_items_density(owner_client, shop):
    dye = _dye(density_g_per_ml=Decimal("0.98"))
    lot = factories.make_lot(dye, 30)
    Lot.objects.filter(pk=lot.pk).update(strength=Decimal("0.5"))
    assert "is thinned" in _send(owner_client, dye, status=422, grams="1.05", keep_on=lot.pk)
    _send(owner_client, dye, way="count", ml="1", keep_on=lot.pk)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        ({"grams": ""}, "How much do they weigh?"),
        ({"way": "count"}, "How many mL do they fill?"),
        ({"grams": "1,05"}, "Write 1.05 with a point"),
        ({"grams": "NaN"}, "number"),
        ({"grams": "5000"}, "larger than 1 mL"),
        ({"drops": "1.5", "grams": "1"}, "whole number"),
        ({"keep_on": "999", "grams": "1"}, "valid choice"),
    ],
)
def test_wrong_figures_are_said_at_the_field_and_nothing_is_kept(owner_client, shop, data, why):
    dye = _dye(density_g_per_ml=Decimal("0.98"))
    assert why in _send(owner_client, dye, status=422, **data)
    dye.refresh_from_db()
    assert dye.ml_per_drop is None


def test_more_bottles_take_no_more_queries(owner_client, shop):
    dye = _dye()
    for _ in range(10):
        factories.make_lot(dye, 5)
    ten = queries_of(owner_client, _url(dye))
    for _ in range(10):
        factories.make_lot(dye, 5)
    assert queries_of(owner_client, _url(dye)) == ten
