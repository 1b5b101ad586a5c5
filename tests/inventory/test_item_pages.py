"""Writing down items: which figures are asked for, which are refused."""

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Item
from inventory.services import suppliers
from tests import factories
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
NEW = reverse("inventory:item_new")


def send(client, kind="colorant", **facts):
    facts = {"name": "Copper dusk", "stock_unit": "mL", **facts}
    return client.post(f"{NEW}?kind={kind}", facts)


def test_the_kind_is_asked_first(owner_client):
    text = page(owner_client, NEW)
    assert "?kind=wear%20part" in text
    assert "leftover</a>" not in text.lower()
    assert "What is it?" in page(owner_client, NEW, kind="leftover")


@pytest.mark.parametrize(
    ("kind", "asked", "not_asked"),
    [
        ("plastisol", ["hardness", "melt_limit"], ["ml_per_drop", "flake_size_in"]),
        ("colorant", ["ml_per_drop", "color_kind"], ["flake_size_in", "hardness"]),
        ("flake", ["flake_size_in", "g_per_tsp"], ["hardness", "ml_per_drop"]),
        ("packaging", ["minimum"], ["density_g_per_ml", "color"]),
    ],
)
def test_only_the_figures_of_the_kind_are_asked_for(owner_client, kind, asked, not_asked):
    text = page(owner_client, NEW, kind=kind)
    assert all(f'name="{name}"' in text for name in asked)
    assert not any(f'name="{name}"' in text for name in not_asked)


def test_an_item_is_written_down_with_levels_in_any_unit(owner_client):
    response = send(
        owner_client,
        ml_per_drop="0.03",
        color="#9a5a2c",
        color_kind="dye",
        minimum="1 fl oz",
        target="1000 drops",
    )
    item = Item.objects.get()
    assert response.url == reverse("inventory:item", args=[item.pk])
    # The US fluid ounce is 29.5735295625 mL: NIST Handbook 44, appendix C. 1000 × 0.03 mL = 30 mL.
    assert (item.minimum, item.target) == (29_573_530, 30_000_000)


def test_a_target_under_the_minimum_is_refused(owner_client):
    response = send(owner_client, ml_per_drop="0.03", minimum="1 fl oz", target="100 drops")
    assert response.status_code == 422
    assert "less than the minimum" in response.content.decode()
    assert not Item.objects.exists()


@pytest.mark.parametrize("kind", ["flake", "additive", "colorant"])
def test_what_is_weighed_and_mixed_in_needs_its_density(owner_client, kind):
    response = send(owner_client, kind, stock_unit="g")
    assert response.status_code == 422
    assert "density" in response.context["form"].errors["density_g_per_ml"][0]
    assert send(owner_client, kind, stock_unit="g", density_g_per_ml="1.37").status_code == 302
    assert Item.objects.get().density_g_per_ml == Decimal("1.37")


def test_flake_may_be_kept_in_spoon_volume_by_those_who_never_weigh(owner_client):
    assert send(owner_client, "flake", stock_unit="mL").status_code == 302


@pytest.mark.parametrize(
    ("kind", "unit"), [("plastisol", "g"), ("colorant", "each"), ("flake", "x")]
)
def test_a_unit_that_the_kind_cannot_be_stocked_in_is_refused(owner_client, kind, unit):
    response = send(owner_client, kind, stock_unit=unit)
    assert response.status_code == 422
    assert "stock_unit" in response.context["form"].errors


@pytest.mark.parametrize("text", ["NaN", "inf", "1e309", "1,37", "-1", "0", "26", "1.1234567", "x"])
def test_a_density_that_is_no_density_is_refused_and_kept(owner_client, text):
    response = send(owner_client, "flake", stock_unit="g", density_g_per_ml=text, notes="jar 3")
    page_text = response.content.decode()
    assert response.status_code == 422
    assert f'value="{text}"' in page_text
    assert "jar 3" in page_text
    assert list(response.context["form"].errors) == ["density_g_per_ml"]
    assert not Item.objects.exists()


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("minimum", "20 g", "density"),
        ("minimum", "20 drops", "size of a drop"),
        ("target", "1e309", "without the e"),
        ("color", "red", "six hex digits"),
        ("name", "", "Fill this in"),
    ],
)
def test_the_message_names_what_is_missing(owner_client, field, text, words):
    response = send(owner_client, **{field: text})
    assert response.status_code == 422
    assert words in response.context["form"].errors[field][0]


def test_the_same_name_twice_is_refused(owner_client):
    send(owner_client)
    response = send(owner_client)
    assert response.status_code == 422
    assert "already exists" in response.content.decode()
    assert Item.objects.count() == 1


def test_an_item_is_changed_and_nothing_else_of_it(owner_client):
    item = factories.make_item(
        name="Copper dusk", color="#9a5a2c", minimum=factories.micro("29.5"), ml_per_drop="0.03"
    )
    factories.make_lot(item, 80)
    url = reverse("inventory:item_edit", args=[item.pk])
    text = page(owner_client, url)
    assert 'value="29.5 mL"' in text
    assert 'value="0.03"' in text
    response = owner_client.post(
        url, {"name": "Copper dawn", "stock_unit": "mL", "minimum": "1 tbsp", "archived": "on"}
    )
    assert response.status_code == 302
    item.refresh_from_db()
    # A US tablespoon is 14.78676478125 mL: NIST Handbook 44, appendix C.
    assert (item.name, item.minimum, item.archived) == ("Copper dawn", 14_786_765, True)


def test_the_stock_unit_stays_once_lots_or_packs_count_in_it(owner_client):
    facts = {"name": "Bag 4 x 6 in", "stock_unit": "g"}
    by_lot = factories.make_item("packaging", "Bag 4 x 6 in", "each")
    factories.make_lot(by_lot, 10)
    by_pack = factories.make_item("packaging", "Hang tag", "each")
    suppliers.add_pack(
        item=by_pack,
        supplier=factories.make_supplier(),
        name="100",
        quantity=factories.micro(100),
        price_minor=500,
    )
    for item in (by_lot, by_pack):
        response = owner_client.post(
            reverse("inventory:item_edit", args=[item.pk]), {**facts, "name": item.name}
        )
        assert response.status_code == 422
        assert "Make a new item instead" in response.content.decode()
    free = factories.make_item("packaging", "Header card", "each")
    response = owner_client.post(
        reverse("inventory:item_edit", args=[free.pk]), {**facts, "name": free.name}
    )
    assert response.status_code == 302


def test_what_the_bench_makes_is_not_edited(owner_client):
    poured = factories.make_item("leftover", "Poured soft base")
    page(owner_client, reverse("inventory:item_edit", args=[poured.pk]), 404)


def test_a_helper_does_not_edit_items(helper_client, shop):
    item = factories.make_item()
    for url in (NEW, reverse("inventory:item_edit", args=[item.pk])):
        assert helper_client.get(url).status_code == 403
        assert helper_client.post(url, {}).status_code == 403
    assert reverse("inventory:item_edit", args=[item.pk]) not in page(
        helper_client, reverse("inventory:item", args=[item.pk])
    )


def test_a_kept_weight_is_cautioned_against_dust(owner_client):
    flake = factories.make_flake()
    assert "Avoid breathing dust" in page(owner_client, reverse("inventory:item", args=[flake.pk]))
