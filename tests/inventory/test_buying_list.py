"""The buying list: what the ledger's history, open work and suppliers' terms make of it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import basket, buying_list, needs, usage
from inventory.buying_list import Settings
from inventory.models import Pack
from inventory.needs import Need
from inventory.services import counts, thinning
from tests import factories
from tests.factories import key, micro
from tests.inventory.buying import days_ago, make_pack, make_used, noon, use
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
BUYING = reverse("inventory:buying")


@pytest.fixture
def needed(monkeypatch):
    """Open work of other apps, as they register it."""
    found: list[Need] = []
    monkeypatch.setattr(needs, "_finders", [lambda: found])
    return found


def build(**settings):
    return buying_list.build(timezone.localdate(), Settings(**settings))


def rows(found):
    return {
        (basket.supplier.name, row.item.name, row.pack.name): row.count
        for basket in found.baskets
        if basket.supplier
        for row in basket.rows
    }


def outlook_url(item):
    return reverse("inventory:outlook", args=[item.pk])


# -- history ---------------------------------------------------------------------------------------


def test_use_is_what_was_drawn_and_what_counts_found_missing_and_still_stands(db):
    item = factories.make_item()
    lot = factories.make_lot(item, 1000, on=days_ago(10))
    use(lot, 30, days_ago(4))
    use(lot, 20, days_ago(4))
    undone = counts.waste(
        key=key(), lot=lot, quantity=micro(99), reason="x", happened_at=noon(days_ago(3)), by=None
    )
    counts.undo(key=key(), entry=undone, happened_at=noon(days_ago(3)), by=None)
    counts.count(key=key(), lot=lot, counted=micro(943), counted_at=noon(days_ago(2)), by=None)
    counts.count(key=key(), lot=lot, counted=micro(950), counted_at=noon(days_ago(1)), by=None)
    used = usage.daily([item.pk], timezone.localdate())[item.pk]
    # Ten days here: 50 on the sixth, 7 missing on the eighth; what a count finds more is no use.
    assert used == [0, 0, 0, 0, 0, 0, 50, 0, 7, 0]


def test_history_is_a_year_at_most_and_today_is_not_over_yet(db):
    item = factories.make_item()
    lot = factories.make_lot(item, 1000, on=days_ago(500))
    use(lot, 5, days_ago(400))
    use(lot, 6, days_ago(365))
    use(lot, 7, days_ago(0))
    used = usage.daily([item.pk], timezone.localdate())[item.pk]
    assert len(used) == 365
    assert (used[0], sum(used)) == (6, 6)


def test_thinning_a_colorant_is_no_use_of_it_and_thin_color_counts_as_what_it_held(db):
    color = factories.make_item(ml_per_drop="0.05")
    oil = factories.make_item("additive", "Thinning oil")
    lot, thinner = (factories.make_lot(item, 100, on=days_ago(9)) for item in (color, oil))
    thin = thinning.thin(
        key=key(),
        lot=lot,
        quantity=micro(50),
        oil_lot=thinner,
        oil_quantity=micro(50),
        happened_at=noon(days_ago(5)),
        by=None,
    )
    made = thin.movements.get(role="made").lot
    use(made, 20, days_ago(3))
    used = usage.daily([color.pk, oil.pk], timezone.localdate())
    # Half strength: 20 mL of it held 10 mL as bought.
    assert sum(used[color.pk]) == pytest.approx(10)
    assert sum(used[oil.pk]) == pytest.approx(50)


# -- the list --------------------------------------------------------------------------------------


def test_an_item_that_is_used_needs_no_minimum_to_be_bought(owner_client):
    item = factories.make_item(name="Copper dusk")
    make_used(item, left=20)
    make_pack(item, factories.make_supplier(lead_time_days=9))
    text = page(owner_client, BUYING)
    assert "4 weeks of use at 30 mL/week" in text
    assert "supplier takes 9 days" in text
    assert "Out about" in text
    # More weeks at once: more of it.
    few, many = (sum(rows(build(weeks=weeks)).values()) for weeks in (2, 12))
    assert few < many
    assert "12 weeks of use" in page(owner_client, BUYING, weeks="12")


def test_open_work_is_netted_first_and_named(owner_client, needed):
    item = factories.make_item(name="Copper dusk")
    make_used(item, left=200)
    make_pack(item)
    assert "could wait" not in page(owner_client, BUYING) or not rows(build())
    needed.append(Need(item.pk, micro(180), "open orders"))
    assert "open orders need 180 mL" in page(owner_client, BUYING)
    assert rows(build())


def test_open_work_without_any_history_is_bought_for(owner_client, needed):
    item = factories.make_item(name="Copper dusk")
    make_pack(item)
    needed.append(Need(item.pk, micro(250), "planned batches"))
    assert rows(build()) == {("Gray Heron Supply", "Copper dusk", "100 bottle"): 3}
    assert "No history yet, planned batches need 250 mL" in page(owner_client, BUYING)


def low(name, short=300):
    return factories.make_item(name=name, minimum=micro(short), target=micro(short))


def test_the_cheapest_basket_mixes_suppliers_and_prices_one_alone_beside_it(owner_client):
    green, soot = low("Reed green"), low("Soot black")
    heron, kettle = factories.make_supplier(), factories.make_supplier("Blue Kettle Pigments")
    make_pack(green, heron, price=500)
    make_pack(green, kettle, price=900)
    make_pack(soot, heron, price=900)
    make_pack(soot, kettle, price=400)
    found = build()
    # 3 × 5.00 and 3 × 4.00; alone the cheapest is Blue Kettle: 27.00 + 12.00.
    assert found.proven and found.solved_minor == 2700
    assert (found.single_minor, found.single_supplier) == (3900, kettle)
    text = page(owner_client, BUYING)
    assert "All from Blue Kettle Pigments instead" in text and "39.00 USD" in text
    assert "Proven" in text


def test_a_supplier_that_comes_too_late_is_left_out_where_another_is_in_time(db):
    item = factories.make_item(name="Copper dusk")
    make_used(item, left=20)
    make_pack(item, factories.make_supplier("Far Shore", lead_time_days=90), price=100)
    make_pack(item, factories.make_supplier("Next Door", lead_time_days=2), price=500)
    assert {supplier for supplier, *_ in rows(build())} == {"Next Door"}


def test_a_supplier_of_90_days_is_told_to_come_too_late(owner_client):
    item = factories.make_item(name="Copper dusk")
    make_used(item, left=20, weeks=30)
    make_pack(item, factories.make_supplier(lead_time_days=90))
    assert "too late" in page(owner_client, BUYING)


def test_a_least_order_is_filled_with_what_could_wait_before_more_of_the_same(db):
    heron = factories.make_supplier(order_minimum_minor=2500)
    make_pack(low("Reed green"), heron)
    soon = factories.make_item(name="Soot black")
    make_used(soon, left=110)
    make_pack(soon, heron, price=600)
    assert rows(build())["Gray Heron Supply", "Reed green", "100 bottle"] == 3
    assert ("Gray Heron Supply", "Soot black", "100 bottle") in rows(build())


def test_with_nothing_else_to_add_a_least_order_is_filled_with_more_of_the_same(db):
    make_pack(low("Reed green"), factories.make_supplier(order_minimum_minor=2500))
    assert rows(build())["Gray Heron Supply", "Reed green", "100 bottle"] == 5


def test_a_free_pack_and_a_large_least_number_get_an_answer(owner_client):
    make_pack(low("Reed green"), price=0)
    make_pack(low("Soot black"), least=40)
    found = build()
    assert rows(found)["Gray Heron Supply", "Soot black", "100 bottle"] == 40
    assert found.proven
    page(owner_client, BUYING)


def test_what_could_wait_and_a_price_break_that_pays_are_named(owner_client):
    item = factories.make_item(name="Copper dusk")
    make_used(item, left=20)
    make_pack(item, breaks=[(4, 400)])
    text = page(owner_client, BUYING)
    assert "Take 4" in text and "each is cheaper" in text
    pack = Pack.objects.get()
    data = {"key": key(), f"packs-{pack.pk}": "2"}
    text = owner_client.post(BUYING, {**data, "set": f"{pack.pk}:4"}).content.decode()
    assert 'value="4"' in text and "16.00 USD" in text


def test_free_shipping_is_reached_with_what_is_needed_soon(owner_client):
    heron = factories.make_supplier(shipping_minor=900, free_shipping_minor=2300)
    green = make_pack(low("Reed green"), heron)
    soon = factories.make_item(name="Soot black")
    make_used(soon, left=110)
    make_pack(soon, heron, price=600)
    text = page(owner_client, BUYING)
    assert "could wait" in text and "shipping is free" in text
    data = {"key": key(), f"packs-{green.pk}": "3", "do": f"fill:{heron.pk}"}
    text = owner_client.post(BUYING, data).content.decode()
    assert "shipping is free" not in text


@pytest.mark.parametrize(
    ("name", "typed"),
    [("weeks", "0"), ("weeks", "-3"), ("weeks", "NaN"), ("service", "100"), ("service", "5")],
)
def test_settings_that_make_no_sense_are_told_at_their_field(owner_client, name, typed):
    make_pack(low("Reed green"))
    response = owner_client.get(BUYING, {name: typed})
    assert response.status_code == 422
    assert response.context["asked"].errors[name]
    assert f'value="{typed}"' in response.content.decode()


def test_the_same_shelf_gives_the_same_list_and_is_solved_once(db, monkeypatch):
    make_pack(low("Reed green"))
    first = build()
    monkeypatch.setattr(basket, "basket", None)
    assert rows(build()) == rows(first)


def test_an_item_without_history_or_minimum_is_never_listed_and_that_is_said(owner_client):
    make_pack(factories.make_item())
    text = page(owner_client, BUYING)
    assert "Nothing is low" in text
    assert "1 item with too little history and no minimum is never listed" in text


# -- the outlook of one item -------------------------------------------------------------------------


def test_the_outlook_shows_the_reorder_point_and_the_run_down(owner_client, needed):
    item = factories.make_item(name="Copper dusk", minimum=micro(10))
    make_used(item, left=200)
    make_pack(item, factories.make_supplier(lead_time_days=9))
    needed.append(Need(item.pk, micro(20), "open orders"))
    text = page(owner_client, outlook_url(item))
    for words in ("30 mL/week", "order at", "ahead-band", "9 days", "need 20 mL"):
        assert words in text


def test_the_outlook_of_a_new_item_says_what_is_missing(owner_client):
    item = factories.make_item(name="Copper dusk")
    text = page(owner_client, outlook_url(item))
    assert "No history yet" in text and "Set a minimum" in text
    assert "ahead-band" not in text


def test_the_outlook_is_the_owners_and_of_what_is_bought(owner_client, helper_client):
    item = factories.make_item()
    assert helper_client.get(outlook_url(item)).status_code == 403
    made = factories.make_item("leftover", "Trim")
    assert owner_client.get(outlook_url(made)).status_code == 404


# -- the shelf at a glance ---------------------------------------------------------------------------


def test_the_shelf_at_a_glance_names_dead_stock_and_what_expires_unused(owner_client):
    dead = factories.make_item(name="Old gold")
    factories.make_lot(dead, 50, cost=20, on=days_ago(200))
    item = factories.make_item(name="Copper dusk")
    make_used(item, left=100)
    soon = timezone.localdate() + timedelta(days=10)
    factories.make_lot(item, 500, cost=50, expires_on=soon)
    text = page(owner_client, BUYING)
    assert "Old gold" in text and "20.00 USD" in text
    assert soon.strftime("%B %Y") in text
    assert "Colorant" in text


def test_the_list_takes_as_many_queries_for_20_items_with_history_as_for_10(owner_client):
    def more(numbers):
        for number in numbers:
            item = factories.make_item(name=f"Dusk {number}")
            make_used(item, left=20, weeks=4)
            make_pack(item, f"Supplier {number}", breaks=[(5, 400)])

    more(range(10))
    ten = queries_of(owner_client, BUYING)
    more(range(10, 20))
    assert queries_of(owner_client, BUYING) == ten
