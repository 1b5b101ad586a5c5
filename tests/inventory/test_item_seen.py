"""What the page of an item shows: its lots, its last year, what uses it, and what moved."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory import listing
from inventory.models import Entry, Item, Lot, Movement, Place
from inventory.services import counts, ledger, mending
from inventory.services.posting import posting
from production.models import Cavity, Product, ProductPackaging, Recipe, RecipeVersion
from tests import factories
from tests.factories import micro
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db


def item_page(client, item, **asked):
    return page(client, reverse("inventory:item", args=[item.pk]), **asked)


@posting
def draw(key, *, lot, quantity, at=None, estimated=False, by=None):
    """Some of a lot is taken, as the bench would."""
    taken = ledger.Draw(lot, micro(quantity), estimated=estimated, said="a splash")
    event = ledger.Event(Entry.Kind.WASTE, f"Taken, {key.text}", happened_at=at, draws=[taken])
    return ledger.post(key, event, by=by)


def test_an_item_says_what_is_on_hand_held_and_available_in_both_systems(helper_client, shop):
    lot = factories.make_lot(factories.make_item(), "118.2941182")
    Lot.objects.filter(pk=lot.pk).update(reserved=micro("29.5735295"))
    text = " ".join(item_page(helper_client, lot.item).split())
    # The US fluid ounce is 29.5735295625 mL: NIST Handbook 44, appendix C.
    assert "<strong>4 <small>fl oz</small></strong><span>118.3 mL on hand</span>" in text
    assert "<strong>1 <small>fl oz</small></strong><span>29.6 mL held for orders</span>" in text
    assert "<strong>3 <small>fl oz</small></strong><span>88.7 mL available</span>" in text


def test_a_lot_shows_its_place_its_thinning_and_its_marks(helper_client, shop):
    today = timezone.localdate()
    item = factories.make_item(ml_per_drop="0.05")
    lot = factories.make_lot(item, 100, expires_on=today - timedelta(days=1))
    rack = Place.objects.create(name="rack by the door")
    Lot.objects.filter(pk=lot.pk).update(strength="0.5", ml_per_drop="0.04", place=rack, found=True)
    draw(key="d", lot=lot, quantity=1, estimated=True)
    text = item_page(helper_client, item)
    lots = text.split('id="lots"')[1].split('id="year"')[0]
    for words in ("rack by the door", "strength 0.5", "one drop 0.04 mL", "≈ doubtful", "found"):
        assert words in lots
    assert "expired" in lots and "never" in lots
    counts.count(key="c", lot=lot, counted=micro(99), by=None)
    lots = item_page(helper_client, item).split('id="lots"')[1].split('id="year"')[0]
    assert "doubtful" not in lots and "never" not in lots


def test_what_an_item_ties_up_is_the_owners_to_see(owner_client, helper_client):
    lot = factories.make_lot(factories.make_item(), 10, "6.57")
    unknown = factories.make_lot(factories.make_item(), 10, None)
    assert "6.57 <small>USD</small>" in item_page(owner_client, lot.item)
    assert "<strong>unknown</strong>" in item_page(owner_client, unknown.item)
    assert "6.57" not in item_page(helper_client, lot.item)


days_back = st.integers(0, 400)
deeds = st.lists(
    st.tuples(st.sampled_from(["in", "out", "count", "undone"]), days_back, st.integers(1, 50)),
    min_size=1,
    max_size=8,
)


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(deeds)
def test_the_chart_is_what_a_replay_of_the_ledger_gives(db, deeds):
    item = factories.make_item()
    now = timezone.now()
    for deed, back, quantity in deeds:
        at = now - timedelta(days=back)
        if deed == "in":
            factories.make_lot(item, quantity, on=timezone.localdate(at))
        elif lot := item.lots.filter(on_hand__gt=micro(quantity)).first():
            if deed == "count":
                counts.count(key=factories.key(), lot=lot, counted=micro(quantity), by=None)
                continue
            taken = draw(key=factories.key(), lot=lot, quantity=quantity, at=at)
            if deed == "undone":
                counts.undo(key=factories.key(), entry=taken, by=None)
    shown = Item.objects.with_on_hand().get(pk=item.pk)
    series = listing.chart_of(shown)
    lines = [
        (timezone.localdate(line.entry.happened_at), line.quantity)
        for line in Movement.objects.filter(lot__item=item).select_related("entry__reversed_by")
        if not line.entry.reverses_id and not hasattr(line.entry, "reversed_by")
    ]
    for back in range(0, 365, 13):
        day = series.last - timedelta(days=back)
        assert series.at_end_of(day) == sum(quantity for on, quantity in lines if on <= day)


def test_the_year_is_drawn_and_told_in_words_and_by_month(helper_client, shop):
    item = factories.make_item(minimum=micro(30))
    lot = factories.make_lot(item, 100, on=timezone.localdate() - timedelta(days=60))
    draw(key="d", lot=lot, quantity=40)
    counts.count(key="c", lot=lot, counted=micro(57), by=None)
    text = item_page(helper_client, item)
    year = text.split('id="year"')[1].split('id="used-in"')[0]
    assert "at most 100 mL, at least 0 mL, now 57 mL. The minimum is 30 mL." in year
    assert all(f'class="year-{mark}"' in year for mark in ("line", "minimum", "in", "counted"))
    this_month = year.split("<tbody>")[1].split("</tr>")[0]
    assert "40 mL" in this_month and "−3 mL" in this_month and "57 mL" in this_month
    assert " style=" not in year


def test_an_item_that_was_never_here_has_no_year_and_says_how_to_get_some(owner_client):
    text = item_page(owner_client, factories.make_item())
    assert "None of it was here in the last year" in text
    assert "Receive some" in text
    assert "Nothing has moved yet" in text


def test_an_item_names_the_recipes_molds_and_products_that_use_it(helper_client, shop):
    grade, color = factories.make_plastisol(), factories.make_item()
    version = factories.make_recipe("Marsh Lantern", grade=grade, doses={color: 1.2})
    put_away = factories.make_recipe("Old Lantern", grade=grade, doses={color: 1})
    Recipe.objects.filter(pk=put_away.recipe_id).update(archived=True)
    recipe = reverse("production:recipe", args=[version.recipe_id])
    for item, detail in ((grade, "its plastisol"), (color, "1.2 mL for 100 mL")):
        text = item_page(helper_client, item)
        assert recipe in text and detail in text
        assert "Old Lantern" not in text
    hook = factories.make_item("part", "hook", "each")
    mold = factories.make_mold()
    Cavity.objects.filter(mold=mold).update(part=hook, parts_each=2)
    text = item_page(helper_client, hook)
    assert reverse("production:mold", args=[mold.pk]) in text and "2 in each Reed Eel" in text
    bag = factories.make_item("packaging", "Bag", "each")
    product = Product.objects.create(
        item=factories.make_item("bagged product", "Reed Eel, five", "each"), price_minor=500
    )
    ProductPackaging.objects.create(product=product, item=bag, quantity=micro(1))
    text = item_page(helper_client, bag)
    assert reverse("production:product", args=[product.pk]) in text and "1 to a bag" in text
    assert "No recipe, mold or product" in item_page(helper_client, factories.make_item())


def test_a_recipe_that_left_an_item_out_uses_it_no_more(helper_client, shop):
    grade, color = factories.make_plastisol(), factories.make_item()
    version = factories.make_recipe("Marsh Lantern", grade=grade, doses={color: 1.2})
    RecipeVersion.objects.create(
        recipe=version.recipe, number=2, grade=grade, reference_ml=100, reference_said="100 mL"
    )
    assert "Marsh Lantern" not in item_page(helper_client, color)
    assert item_page(helper_client, grade).count("Marsh Lantern") == 1


def test_movements_say_what_was_said_when_and_by_whom(helper_client, helper, shop):
    lot = factories.make_lot(factories.make_item(), 100)
    yesterday = timezone.now() - timedelta(days=1)
    entry = draw(key="d", lot=lot, quantity=5, at=yesterday, estimated=True, by=helper)
    moves = item_page(helper_client, lot.item).split('id="moves"')[1]
    assert "≈ a splash" in moves and "−5 mL" in moves and "by tobin" in moves
    assert f"posted {timezone.localdate():%Y-%m-%d}" in moves
    assert reverse("inventory:entry", args=[entry.pk]) in moves


def test_what_was_undone_or_amended_shows_so_in_the_movements(helper_client, shop):
    lot = factories.make_lot(factories.make_item(), 100)
    wrong = draw(key="d", lot=lot, quantity=5)
    counts.undo(key="u", entry=wrong, by=None)
    mending.amend_receipt(key="a", lot=lot, quantity=micro(90), cost=micro(10), by=None)
    moves = item_page(helper_client, lot.item).split('id="moves"')[1]
    badges = [f'<span class="badge">{mark}</span>' for mark in ("undone", "undo", "amended")]
    assert all(badge in moves for badge in badges)
    assert '<span class="badge">amends</span>' in moves
    # The year knows only what stands.
    assert "at most 90 mL" in item_page(helper_client, lot.item)


def test_movements_and_lots_are_paged_each_on_its_own(helper_client, shop):
    item = factories.make_item()
    lots = [factories.make_lot(item, 10) for _ in range(30)]
    text = item_page(helper_client, item)
    shown = text.split('id="lots"')[1].split('id="year"')[0]
    assert lots[24].number in shown and lots[25].number not in shown
    assert "?lots_page=2" in shown
    second = item_page(helper_client, item, lots_page=2, page=2)
    assert lots[25].number in second.split('id="year"')[0]
    assert "?lots_page=2&amp;page=1" in second
    assert second.split('id="moves"')[1].count("<tr>") == 1 + 5


def test_an_item_takes_as_many_queries_for_20_movements_and_uses_as_for_10(owner_client):
    item, grade = factories.make_item(), factories.make_plastisol()
    lot = factories.make_lot(item, 1000)

    def more(start):
        for number in range(start, start + 10):
            draw(key=f"d{number}", lot=lot, quantity=1)
            factories.make_recipe(f"Lantern {number}", grade=grade, doses={item: 1})

    more(0)
    ten = queries_of(owner_client, reverse("inventory:item", args=[item.pk]))
    more(10)
    assert queries_of(owner_client, reverse("inventory:item", args=[item.pk])) == ten
