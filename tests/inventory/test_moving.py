"""Goods that are moved stay ours, keep their code, and can be traced both ways."""

from datetime import timedelta

import pytest
from django.db.models import Sum
from django.utils import timezone

from inventory import audit, emptied, lineage, queries, stock_state, usage
from inventory.models import Entry, Item, Lot, Place, Reservation
from inventory.services import counts, mending, moving, on_hold, thinning
from inventory.services.posting import LedgerError
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


@pytest.fixture
def stall():
    return Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)


@pytest.fixture
def bags():
    """12 bags of one product that cost 30 together."""
    item = factories.make_item(Item.Kind.BAGGED, "Reed Eel, Marsh Lantern, 5", "each")
    return factories.make_lot(item, 12, 30)


def move(lot, quantity, place, **facts):
    part = moving.Part(lot, micro(quantity))
    entry = moving.move(key=key(), parts=[part], place=place, by=None, **facts)
    return entry.movements.get(role="made").lot


def fresh(lot):
    return Lot.objects.get(pk=lot.pk)


def test_a_part_becomes_a_lot_of_its_own_with_its_share_of_the_cost(bags, stall):
    there = move(bags, 5, stall)
    # By hand: 30 ÷ 12 × 5 = 12.50 go along, 17.50 stay.
    assert (fresh(there).on_hand, fresh(there).cost) == (micro(5), micro("12.5"))
    assert (fresh(bags).on_hand, fresh(bags).cost) == (micro(7), micro("17.5"))
    assert there.place == stall
    assert list(audit.findings()) == []


def test_the_whole_of_a_lot_can_be_moved(bags, stall):
    there = move(bags, 12, stall)
    assert (fresh(bags).on_hand, fresh(there).on_hand) == (0, micro(12))


def test_a_moved_part_is_all_that_its_lot_was(stall):
    lot = factories.make_lot(factories.make_item(name="Marsh green"), 100, 12)
    facts = {
        "supplier": factories.make_supplier(),
        "supplier_lot": "S-77",
        "form": Lot.Form.PACK,
        "received_on": "2026-03-01",
        "expires_on": "2027-01-31",
        "ml_per_drop": "0.041",
        "strength": "0.5",
        "melts": 2,
    }
    Lot.objects.filter(pk=lot.pk).update(**facts)
    there = fresh(move(fresh(lot), 40, stall))
    assert {name: getattr(there, name) for name in facts} == {
        name: getattr(fresh(lot), name) for name in facts
    }
    assert there.item == lot.item


def test_bags_keep_the_code_on_their_label_through_every_move(bags, stall):
    shed = Place.objects.create(name="Shed")
    first = move(bags, 5, stall)
    back = move(first, 2, shed)
    again = move(bags, 1, stall)
    assert {lot.printed for lot in (bags, first, back, again)} == {bags.number}
    assert len({lot.number for lot in (bags, first, back, again)}) == 4
    assert [lot.was_moved for lot in (bags, first, back, again)] == [False, True, True, True]
    assert list(audit.findings()) == []


def test_a_long_number_of_ones_own_still_fits(bags, stall):
    Lot.objects.filter(pk=bags.pk).update(number="N" * 40)
    assert len(move(fresh(bags), 1, stall).number) <= 40
    assert list(audit.findings()) == []


def test_a_move_is_traced_backwards_and_forwards(bags, stall):
    first = move(bags, 5, stall)
    back = move(first, 2, None)
    assert lineage.trace_back(back) == [first, bags]
    assert lineage.trace_forward(bags) == [first, back]


def test_unknown_cost_stays_unknown(stall):
    item = factories.make_item(Item.Kind.BAGGED, "Found bags", "each")
    there = move(factories.make_lot(item, 4, None), 3, stall)
    assert fresh(there).cost is None
    assert list(audit.findings()) == []


def test_more_than_there_is_is_refused_with_the_amounts(bags, stall):
    with pytest.raises(LedgerError, match="13 asked for, 12 on hand, 1 short"):
        move(bags, 13, stall)
    assert not Entry.objects.filter(kind=Entry.Kind.MOVE).exists()


def test_what_orders_hold_stays_at_home(bags, stall):
    Reservation.objects.create(lot=bags, quantity=micro(8), holder="order:1")
    Lot.objects.filter(pk=bags.pk).update(reserved=micro(8))
    with pytest.raises(LedgerError, match="12 on hand, 8 held for orders, 1 short"):
        move(bags, 5, stall)
    move(bags, 4, stall)
    assert list(audit.findings()) == []


def test_a_lot_on_hold_is_not_moved(bags, stall):
    Lot.objects.filter(pk=bags.pk).update(held=True)
    with pytest.raises(LedgerError, match="on hold"):
        move(bags, 1, stall)


def test_the_refusal_says_since_when_and_why_a_lot_is_on_hold(bags, stall):
    on_hold.hold([bags], reason="smells wrong", by=None)
    with pytest.raises(LedgerError, match="on hold since [0-9-]+: smells wrong. It stays"):
        move(bags, 1, stall)


@pytest.mark.parametrize("quantity", ["0", "-1", "1.5"])
def test_bags_are_moved_in_whole_numbers(bags, stall, quantity):
    with pytest.raises(LedgerError, match="whole number|more than nothing"):
        move(bags, quantity, stall)


def test_a_move_to_where_it_lies_is_no_move(bags, stall):
    with pytest.raises(LedgerError, match="lies there already"):
        move(bags, 1, None)


def test_a_leftover_is_never_moved_away_from_its_batch(stall):
    lot = factories.make_lot(factories.make_item(Item.Kind.LEFTOVER, "Poured soft"), 50, 2)
    with pytest.raises(LedgerError, match="leftover"):
        move(lot, 10, stall)


def test_of_several_parts_all_are_moved_or_none(bags, stall):
    other = factories.make_lot(factories.make_item(Item.Kind.BAGGED, "Mud Crawler", "each"), 3, 6)
    parts = [moving.Part(bags, micro(2)), moving.Part(other, micro(4))]
    with pytest.raises(moving.MoveRefused) as refused:
        moving.move(key=key(), parts=parts, place=stall, by=None)
    assert set(refused.value.reasons) == {other.pk}
    assert fresh(bags).on_hand == micro(12)
    parts = [moving.Part(bags, micro(2)), moving.Part(other, micro(3))]
    moving.move(key=key(), parts=parts, place=stall, by=None)
    assert Lot.objects.filter(place=stall).count() == 2


def test_the_same_press_twice_moves_once(bags, stall):
    for _ in range(2):
        part = moving.Part(bags, micro(5))
        moving.move(key="once", parts=[part], place=stall, by=None)
    assert fresh(bags).on_hand == micro(7)


def test_an_undone_move_puts_everything_back(bags, stall):
    before = fresh(bags).cost
    there = move(bags, 5, stall)
    counts.undo(key=key(), entry=Entry.objects.get(kind=Entry.Kind.MOVE), by=None)
    assert (fresh(bags).on_hand, fresh(bags).cost) == (micro(12), before)
    assert fresh(there).on_hand == 0
    assert list(audit.findings()) == []


def test_a_move_is_not_undone_while_what_it_brought_was_moved_on(bags, stall):
    there = move(bags, 5, stall)
    move(there, 1, None)
    with pytest.raises(LedgerError, match="Undo these first: Moved 1"):
        counts.undo(key=key(), entry=Entry.objects.filter(kind="move").earliest("id"), by=None)


def test_a_mended_receipt_corrects_the_cost_of_what_was_moved(bags, stall):
    there = move(bags, 4, stall)
    back = move(there, 2, None)
    mending.amend_receipt(key=key(), lot=fresh(bags), quantity=micro(12), cost=micro(60), by=None)
    # By hand: 60 ÷ 12 = 5 a bag: 8 at home, 2 at the stall, 2 back at home.
    assert [fresh(lot).cost for lot in (bags, there, back)] == [micro(40), micro(10), micro(10)]
    assert list(audit.findings()) == []


def test_a_moved_colorant_still_tells_what_is_in_it(stall):
    green = factories.make_lot(factories.make_item(name="Marsh green"), 60, 12)
    oil = factories.make_lot(factories.make_item("additive", "Worm oil"), 90, 3)
    entry = thinning.thin(
        key=key(), lot=green, quantity=micro(20), oil_lot=oil, oil_quantity=micro(20), by=None
    )
    thinned = entry.movements.get(role="made").lot
    there = move(thinned, 10, Place.objects.create(name="Shed"))
    assert queries.contents_of(fresh(there), micro(10)) == {
        green.item_id: micro(5),
        oil.item_id: micro(5),
    }
    assert list(audit.findings()) == []


def test_fresh_plastisol_is_base_after_a_move_too(stall):
    lot = factories.make_lot(factories.make_plastisol(), 1000, 30)
    there = move(lot, 400, Place.objects.create(name="Shed"))
    assert there.movements.get().base == micro(400)


def test_a_move_uses_nothing_up(bags, stall):
    tomorrow = timezone.localdate() + timedelta(days=1)
    move(bags, 5, stall)
    assert sum(usage.daily([bags.item_id], tomorrow)[bags.item_id]) == 0
    used = stock_state.used_since(timezone.now() - timedelta(days=1))
    assert not used.exists()


def test_what_was_moved_away_is_no_use_of_an_emptied_bottle():
    lot = factories.make_lot(factories.make_item(name="Marsh green"), 30, 12)
    move(lot, 10, Place.objects.create(name="Shed"))
    counts.waste(
        key=key(), lot=fresh(lot), quantity=micro(20), reason="spilled", said="400 drops", by=None
    )
    counts.count(key=key(), lot=fresh(lot), counted=0, by=None)
    trusted = queries.with_trust(Lot.objects.select_related("item")).get(pk=lot.pk)
    # 20 mL in 400 drops: .05 mL each, by hand.
    assert float(emptied.told(trusted).found.size) == pytest.approx(0.05, rel=0.01)


def test_bags_at_a_stall_or_with_a_consignee_are_not_at_home(bags, stall):
    shop_in_town = Place.objects.create(name="Cove Outfitters", kind=Place.Kind.CONSIGNEE)
    bin_ = Place.objects.create(name="Bin 3", kind=Place.Kind.BIN)
    for place in (stall, shop_in_town, bin_):
        move(bags, 3, place)
    home = Lot.objects.in_stock().at_home().aggregate(total=Sum("on_hand"))["total"]
    assert home == micro(6)
    assert Lot.objects.in_stock().aggregate(total=Sum("on_hand"))["total"] == micro(12)
