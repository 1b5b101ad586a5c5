"""Counting on a phone: a place at a time, or one lot; and throwing some of it away."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Entry, Lot, Place
from inventory.services import counts, suppliers
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
PLACES = reverse("inventory:count_places")
# Four US fluid ounces, 29.5735295625 mL each: NIST Handbook 44, appendix C.
BOTTLE = 118_294_118


def round_at(place: Place | str) -> str:
    return reverse("inventory:count_round", args=[getattr(place, "pk", place)])


def bottle(place: Place | None = None, held=100, *, packs=("4 fl oz bottle",), **facts) -> Lot:
    """A bottle of colorant, with the packs it is sold in."""
    item = factories.make_item(place=place, **facts)
    sizes = {"4 fl oz bottle": BOTTLE, "1 qt jug": 8 * BOTTLE}
    for name in packs:
        suppliers.add_pack(
            item=item,
            supplier=factories.make_supplier(f"Supplier {item.pk} {name}"),
            name=name,
            quantity=sizes[name],
            price_minor=650,
        )
    return factories.make_lot(item, held)


def typed(step: str, seen: dict[Lot, str], **more) -> dict:
    """What is sent for a round: `more` may name a field of a lot by its number, as `reason_7`."""
    data = {"key": "round", "step": step}
    data |= {f"lot-{lot.pk}-counted": text for lot, text in seen.items()}
    for name, value in more.items():
        field, _, pk = name.rpartition("_")
        data[f"lot-{pk}-{field}" if pk.isdigit() else name] = value
    return data


def look_and_post(client, url: str, seen: dict[Lot, str], **more):
    """Looks a round over and posts it as it was understood."""
    looked = client.post(url, typed("look", seen, **more))
    assert looked.status_code == 200, looked.content.decode()
    form = looked.context["form"]
    more |= {f"seen_{row.lot.pk}": str(row.millionths) for row in form.filled}
    more.setdefault("now", form.when.isoformat())
    return client.post(url, typed("post", seen, **more))


def on_hand(lot: Lot) -> int:
    return Lot.objects.get(pk=lot.pk).on_hand


@pytest.fixture
def rack(shop) -> Place:
    return Place.objects.create(name="rack by the door")


def test_with_nothing_on_the_shelf_there_is_nothing_to_count(helper_client, shop):
    assert "nothing to count" in page(helper_client, PLACES)


def test_one_chooses_the_place_to_count(helper_client, rack):
    bottle(rack)
    lot = bottle()
    Lot.objects.filter(pk=lot.pk).update(count_me=True)
    text = page(helper_client, PLACES)
    assert "rack by the door" in text
    assert "No place" in text
    assert "asks for it: 1 lot" in text
    assert lot.number in page(helper_client, round_at("none"))
    assert lot.number in page(helper_client, round_at("asking"))
    assert lot.number not in page(helper_client, round_at(rack))


@pytest.mark.parametrize("where", ["999", "attic", "9" * 30, "²"])
def test_an_unknown_place_is_not_found(helper_client, shop, where):
    page(helper_client, f"/shelf/count/{where}/", 404)


def test_a_place_without_stock_says_what_to_do_next(helper_client, rack):
    assert PLACES in page(helper_client, round_at(rack))


def test_what_asks_for_a_count_comes_first_then_what_is_doubtful_then_what_waited_longest(
    helper_client, rack
):
    fresh, old, guessed, asking = (bottle(rack, name=f"Dusk {n}") for n in range(4))
    counts.count(key=key(), lot=fresh, counted=micro(100), by=None)
    Lot.objects.filter(pk=old.pk).update(received_on="2020-05-01")
    Lot.objects.filter(pk=asking.pk).update(count_me=True)
    pinch(guessed)
    form = helper_client.get(round_at(rack)).context["form"]
    assert [row.lot.item.name for row in form.rows] == ["Dusk 3", "Dusk 2", "Dusk 1", "Dusk 0"]


def pinch(lot: Lot) -> None:
    from tests.inventory.test_trust import use

    use(key=key(), lot=lot, estimated=True, by=None)


def test_a_round_shows_what_it_understood_before_anything_is_posted(helper_client, rack):
    lot = bottle(rack, 98)
    before = Entry.objects.count()
    text = helper_client.post(round_at(rack), typed("look", {lot: "1½ bottles"})).content.decode()
    # 1.5 × 118.294118 mL = 177.441177 mL; less 98 mL is 79.4 mL.
    assert "177.441 mL, as part of 4 fl oz bottle" in text
    assert "The books say 98 mL" in text
    assert "+79.4 mL" in text
    assert Entry.objects.count() == before


def test_a_round_posts_each_lot_as_of_one_moment_with_its_reason(helper_client, helper, rack):
    first, second, third = bottle(rack), bottle(rack), bottle(rack)
    seen = {first: "3 fl oz", second: "100", third: ""}
    more = {f"reason_{first.pk}": "spilled", f"words_{first.pk}": "on the bench"}
    response = look_and_post(helper_client, round_at(rack), seen, **more)
    assert response.status_code == 302
    entries = list(Entry.objects.filter(kind="count").order_by("id"))
    assert [entry.key for entry in entries] == ["round", "round#2"]
    assert {entry.happened_at for entry in entries} == {entries[0].happened_at}
    assert [entry.note for entry in entries] == ["spilled: on the bench", ""]
    assert {entry.by for entry in entries} == {helper}
    assert on_hand(first) == 88_720_589
    assert on_hand(second) == micro(100)
    assert not third.movements.filter(entry__kind="count").exists()


def test_a_lot_that_agrees_is_confirmed_and_no_longer_asks(helper_client, rack):
    lot = bottle(rack)
    Lot.objects.filter(pk=lot.pk).update(count_me=True)
    text = helper_client.post(round_at(rack), typed("look", {lot: "100 mL"})).content.decode()
    assert "as the books say" in text
    look_and_post(helper_client, round_at(rack), {lot: "100 mL"})
    assert not Lot.objects.get(pk=lot.pk).count_me
    assert lot.movements.get(entry__kind="count").quantity == 0


def test_a_bottle_used_up_by_the_books_can_still_be_counted(helper_client, rack):
    lot = bottle(rack, 1)
    pinch(lot)
    pinch(lot)
    assert (on_hand(lot), Lot.objects.get(pk=lot.pk).count_me) == (0, True)
    look_and_post(helper_client, round_at(rack), {lot: "¼ bottle"})
    assert on_hand(lot) == 29_573_530


def test_the_eye_reads_no_finer_than_an_eighth_so_the_books_may_stay(helper_client, rack):
    lot = bottle(rack, 88)
    # ¾ of 118.294118 mL is 88.72 mL, 0.72 mL more than the books; an eighth is 14.8 mL.
    text = helper_client.post(round_at(rack), typed("look", {lot: "¾ bottle"})).content.decode()
    assert "the eye reads no finer" in text
    look_and_post(
        helper_client, round_at(rack), {lot: "¾ bottle"}, **{f"reason_{lot.pk}": "agrees"}
    )
    entry = Entry.objects.get(key="round")
    assert on_hand(lot) == micro(88)
    assert entry.note == "(seen: ¾ bottle)"


def test_a_difference_larger_than_the_eye_errs_is_posted(helper_client, rack):
    lot = bottle(rack, 110)
    text = helper_client.post(round_at(rack), typed("look", {lot: "½ bottle"})).content.decode()
    assert "the eye reads no finer" not in text
    look_and_post(helper_client, round_at(rack), {lot: "½ bottle"})
    assert on_hand(lot) == BOTTLE // 2


def test_of_several_packs_the_suppliers_own_is_the_likeliest_and_another_can_be_chosen(
    helper_client, rack
):
    lot = bottle(rack, 100, packs=("4 fl oz bottle", "1 qt jug"))
    small, large = lot.item.packs.order_by("quantity")
    Lot.objects.filter(pk=lot.pk).update(supplier=large.supplier)
    looked = helper_client.post(round_at(rack), typed("look", {lot: "1/2"}))
    assert f'<option value="{large.pk}" selected>' in looked.content.decode()
    assert looked.context["form"].rows[0].millionths == 4 * BOTTLE
    # Another pack changes the figure: it is shown once more before it is posted.
    seen = {f"seen_{lot.pk}": str(4 * BOTTLE), f"pack_{lot.pk}": str(small.pk)}
    again = helper_client.post(round_at(rack), typed("post", {lot: "1/2"}, **seen))
    assert again.status_code == 200
    assert "look at it again" in again.content.decode()
    assert on_hand(lot) == micro(100)
    response = look_and_post(
        helper_client, round_at(rack), {lot: "1/2"}, **{f"pack_{lot.pk}": str(small.pk)}
    )
    assert response.status_code == 302
    assert on_hand(lot) == BOTTLE // 2


def test_with_nothing_to_tell_the_pack_by_it_is_asked(helper_client, rack):
    lot = bottle(rack, 100, packs=("4 fl oz bottle", "1 qt jug"))
    response = helper_client.post(round_at(rack), typed("look", {lot: "¾"}))
    assert response.status_code == 422
    assert "Part of which pack? Choose it." in response.content.decode()
    assert "1 qt jug" in response.content.decode()


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("88 g", "density"),
        ("¾ pail", "neither a unit nor one of its packs"),
        ("88,7", "88.7 with a point"),
        ("-3", "less than zero"),
        ("1e309", "neither a unit"),
        ("412 g with jar", "Take the empty jar"),
        ("x" * 200, "at most 80"),
        ("<script>alert(1)</script>", "is not a number"),
    ],
)
def test_what_is_not_understood_is_said_at_its_lot_and_the_rest_is_kept(
    helper_client, rack, wrong, told
):
    good, bad = bottle(rack), bottle(rack)
    before = Entry.objects.count()
    response = helper_client.post(round_at(rack), typed("look", {good: "½ bottle", bad: wrong}))
    assert response.status_code == 422
    rows = {row.lot: row for row in response.context["form"].rows}
    assert told in str(rows[bad].errors)
    assert not rows[good].errors
    text = response.content.decode()
    assert 'value="½ bottle"' in text
    assert 'value="round"' in text
    assert "<script>alert" not in text
    assert Entry.objects.count() == before


def test_a_round_in_the_future_is_refused_at_its_field(helper_client, rack):
    lot = bottle(rack)
    later = (timezone.localtime() + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    response = helper_client.post(
        round_at(rack), typed("look", {lot: "½ bottle"}, counted_at=later)
    )
    assert response.status_code == 422
    assert "future" in str(response.context["form"].errors["counted_at"])
    assert 'value="½ bottle"' in response.content.decode()


def test_a_round_entered_late_is_compared_with_the_books_of_then(helper_client, rack):
    lot = bottle(rack)
    then = timezone.localtime() - timedelta(hours=2)
    counts.waste(key=key(), lot=lot, quantity=micro(30), reason="spilled", by=None)
    when = {"counted_at": then.strftime("%Y-%m-%dT%H:%M:%S")}
    # Two hours ago nothing was received yet: the books of then said none of it was here.
    looked = helper_client.post(round_at(rack), typed("look", {lot: "5"}, **when))
    assert looked.context["form"].rows[0].subject.books == 0


def test_more_used_since_than_was_counted_is_said_at_the_lot(helper_client, rack):
    lot, other = bottle(rack), bottle(rack)
    then = timezone.now()
    counts.waste(key=key(), lot=lot, quantity=micro(60), reason="spilled", by=None)
    seen = {lot: "50", other: "90"}
    more = {"now": then.isoformat(), f"reason_{other.pk}": "spilled"}
    more |= {f"seen_{lot.pk}": str(micro(50)), f"seen_{other.pk}": str(micro(90))}
    response = helper_client.post(round_at(rack), typed("post", seen, **more))
    assert response.status_code == 422
    text = response.content.decode()
    assert "more than you counted" in text
    assert '<option value="spilled" selected>' in text
    assert (on_hand(lot), on_hand(other)) == (micro(40), micro(100))


def test_an_empty_round_posts_nothing(helper_client, rack):
    lot = bottle(rack)
    response = helper_client.post(round_at(rack), typed("look", {lot: " "}))
    assert response.status_code == 422
    assert "Nothing was counted yet" in response.content.decode()


def test_something_else_wants_words(helper_client, rack):
    lot = bottle(rack)
    response = helper_client.post(
        round_at(rack), typed("look", {lot: "90"}, **{f"reason_{lot.pk}": "other"})
    )
    assert response.status_code == 422
    assert "Say what it was." in response.content.decode()


def test_back_to_the_list_keeps_what_was_typed(helper_client, rack):
    first, second = bottle(rack), bottle(rack)
    response = helper_client.post(
        round_at(rack), typed("back", {first: "½ bottle", second: "what"})
    )
    text = response.content.decode()
    assert response.status_code == 200
    assert 'value="½ bottle"' in text
    assert 'value="what"' in text
    assert 'value="round"' in text


def test_a_round_sent_twice_posts_once(helper_client, rack):
    first, second = bottle(rack), bottle(rack)
    seen = {first: "90", second: "80"}
    now = {"now": timezone.now().isoformat()}
    for _ in range(2):
        assert look_and_post(helper_client, round_at(rack), seen, **now).status_code == 302
    assert Entry.objects.filter(kind="count").count() == 2


def test_a_spent_key_with_other_figures_is_told_and_can_be_sent_as_new(helper_client, rack):
    lot = bottle(rack)
    look_and_post(helper_client, round_at(rack), {lot: "90"})
    response = look_and_post(helper_client, round_at(rack), {lot: "80"})
    assert response.status_code == 422
    assert "send again" in response.content.decode()
    fresh = response.context["form"]["key"].value()
    assert fresh != "round"
    look_and_post(helper_client, round_at(rack), {lot: "80"}, key=fresh)
    assert on_hand(lot) == micro(80)


def test_a_lot_that_does_not_exist_is_not_found(helper_client, rack):
    lot = bottle(rack)
    data = typed("look", {lot: "90"}) | {"lot-999-counted": "3"}
    assert helper_client.post(round_at(rack), data).status_code == 404


def test_baits_and_bags_are_counted_whole_and_half_a_bag_of_hooks_by_the_pack(helper_client, rack):
    hooks = factories.make_item("part", "Hook", "each", place=rack)
    supplier = factories.make_supplier("Hook house")
    suppliers.add_pack(
        item=hooks, supplier=supplier, name="bag of 25", quantity=micro(25), price_minor=300
    )
    lot = factories.make_lot(hooks, 20)
    response = helper_client.post(round_at(rack), typed("look", {lot: "12.5"}))
    assert "write a whole number" in response.content.decode()
    # Half of 25 is read by eye anyway: 12, half to even.
    look_and_post(helper_client, round_at(rack), {lot: "½ bag"})
    assert on_hand(lot) == micro(12)


def test_a_thinned_bottle_is_not_weighed(helper_client, rack):
    lot = bottle(rack, density_g_per_ml=Decimal("1.1"))
    Lot.objects.filter(pk=lot.pk).update(strength=Decimal("0.25"))
    response = helper_client.post(round_at(rack), typed("look", {lot: "40 g"}))
    assert response.status_code == 422
    assert "thinned" in response.content.decode()


def test_a_jar_is_weighed_less_its_empty_weight(helper_client, rack):
    flake = factories.make_flake(place=rack)
    lot = factories.make_lot(flake, 300)
    look_and_post(helper_client, round_at(rack), {lot: "312 g − 57 g"})
    assert on_hand(lot) == micro(255)


def shelf_of(rack: Place, number: int) -> None:
    for _ in range(number):
        bottle(rack, packs=("4 fl oz bottle", "1 qt jug"))


def test_a_round_takes_as_many_queries_for_20_lots_as_for_10(helper_client, rack):
    shelf_of(rack, 10)
    ten = queries_of(helper_client, round_at(rack)), queries_of(helper_client, PLACES)
    shelf_of(rack, 10)
    assert (queries_of(helper_client, round_at(rack)), queries_of(helper_client, PLACES)) == ten


def test_looking_a_round_over_takes_as_many_queries_for_20_lots_as_for_10(
    helper_client, rack, django_assert_max_num_queries
):
    shelf_of(rack, 20)
    seen = dict.fromkeys(Lot.objects.all(), "½ bottle")
    with django_assert_max_num_queries(12):
        assert helper_client.post(round_at(rack), typed("look", seen)).status_code == 200


def test_long_places_are_counted_a_page_at_a_time(helper_client, rack):
    shelf_of(rack, 22)
    first = helper_client.get(round_at(rack)).context["form"].rows
    second = helper_client.get(round_at(rack), {"page": 2}).context["form"].rows
    assert (len(first), len(second)) == (20, 2)


# --- One lot -----------------------------------------------------------------


def test_a_count_of_one_lot_fixes_what_is_on_hand(helper_client, shop):
    lot = bottle()
    url = reverse("inventory:count", args=[lot.pk])
    assert lot.number in page(helper_client, url)
    response = look_and_post(helper_client, url, {lot: "¾ bottle"}, **{f"reason_{lot.pk}": "found"})
    assert response.url == reverse("inventory:lot", args=[lot.pk])
    assert on_hand(lot) == 88_720_588
    assert Entry.objects.get(key="round").note == "found (seen: ¾ bottle)"


@pytest.mark.parametrize("said", ["0", "empty"])
def test_nothing_left_can_be_counted(helper_client, shop, said):
    lot = bottle()
    look_and_post(helper_client, reverse("inventory:count", args=[lot.pk]), {lot: said})
    assert on_hand(lot) == 0


# --- Throwing away -----------------------------------------------------------


def throw(client, lot: Lot, **facts):
    return client.post(reverse("inventory:waste", args=[lot.pk]), {"key": "w", **facts})


def test_what_is_thrown_away_has_a_reason(helper_client, shop):
    lot = bottle()
    assert throw(helper_client, lot, amount="10", reason="").status_code == 422
    response = throw(helper_client, lot, amount="10", reason="other")
    assert "Say what it was." in response.content.decode()
    throw(helper_client, lot, amount="10", reason="scorched", words="second melt")
    assert Entry.objects.get(key="w").note == "scorched: second melt"


def test_the_same_form_sent_twice_posts_once(helper_client, shop):
    lot = bottle()
    for _ in range(2):
        assert throw(helper_client, lot, amount="10", reason="spilled").status_code == 302
    assert on_hand(lot) == micro(90)


def test_a_spent_key_with_another_amount_is_told_and_can_be_sent_again(helper_client, shop):
    lot = bottle()
    throw(helper_client, lot, amount="10", reason="spilled")
    response = throw(helper_client, lot, amount="20", reason="spilled")
    assert response.status_code == 422
    assert "send again" in response.content.decode()
    fresh = response.context["form"]["key"].value()
    throw(helper_client, lot, key=fresh, amount="20", reason="spilled")
    assert on_hand(lot) == micro(70)


def test_more_than_there_is_cannot_be_thrown_away(helper_client, shop):
    lot = bottle()
    response = throw(helper_client, lot, amount="100.5", reason="spilled")
    assert response.status_code == 422
    assert "0.5 mL short" in response.content.decode()
    assert on_hand(lot) == micro(100)
