"""Poured plastic is said as the cup shows it: in mL of colored plastic, as a weight, or as all of it.

The lot's own share of base is taken off once; the books hold mL of base."""

import pytest

from inventory.models import Entry, Movement
from production.models import Batch
from tests.factories import micro
from tests.production.bench_helpers import filled_in, mix, plan_url, text_of
from tests.production.live import Live, audited, fresh, send, url

pytestmark = pytest.mark.django_db

HOW = "mL as the cup shows them, a weight, or: all of it."


@pytest.fixture
def live(shop):
    return Live()


@pytest.fixture
def old(live):
    """100 mL of base that 25 mL of flavored thinner make 125 mL of colored plastic: four fifths base."""
    return live.mix(100, moss=25, version=None)


def again(live, old) -> str:
    """The mix page of so much base by hand, beginning with the old batch."""
    return plan_url(live.pour, "free", base="60 mL", leftover=old.lot_id)


def drawn(batch, lot) -> Movement:
    return batch.entry.movements.get(lot=lot, role="drawn")


def newest() -> Batch:
    return Batch.objects.latest("id")


def test_the_leftover_to_start_from_is_read_as_it_stands_in_the_cup(owner_client, live, old):
    page = owner_client.get(again(live, old))
    # 60 mL of base are four fifths of 75 mL.
    assert page.context["form"]["use"].value() == "75 mL"
    assert HOW in text_of(page)
    assert "Understood: 60 mL of base." in text_of(page)


@pytest.mark.parametrize(
    "said, base",
    [("50 mL", 40), ("50", 40), ("all of it", 100), ("75 mL", 60), ("27.5 g", 20)],
)
def test_what_was_said_of_it_is_drawn_as_base(owner_client, live, old, said, base):
    old.lot.item.density_g_per_ml = "1.1"
    old.lot.item.save()
    mix(owner_client, again(live, old), use=said)
    line = drawn(newest(), old.lot)
    assert (line.quantity, line.said) == (-micro(base), said)
    assert audited() == []


def test_words_without_a_figure_stand_for_what_was_planned(owner_client, live, old):
    mix(owner_client, again(live, old), use="a good slug")
    line = drawn(newest(), old.lot)
    assert (line.quantity, line.estimated) == (-micro(60), True)


def test_the_plan_left_alone_is_drawn_to_the_millionth(owner_client, live, old):
    page = plan_url(live.pour, "free", base="33.333 mL", leftover=old.lot_id)
    mix(owner_client, page)
    assert drawn(newest(), old.lot).quantity == -micro("33.333")


def test_the_same_press_twice_takes_all_of_it_once(owner_client, live, old):
    data = filled_in(owner_client.get(again(live, old)).context["form"]) | {"use": "all of it"}
    for _ in range(2):
        assert owner_client.post(again(live, old), data).status_code == 302
    assert fresh(old.lot).on_hand == 0
    assert Entry.objects.filter(kind="batch").count() == 2


def test_what_was_understood_stands_beside_what_was_typed(owner_client, live, old):
    other = live.mix(100, moss=0, version=None)
    page = mix(
        owner_client,
        again(live, old),
        use="50 mL",
        source_1=other.lot_id,
        source_amount_1="30 mL",
        base="-3",
    )
    assert page.status_code == 422
    said = text_of(page)
    assert "Understood: 40 mL of base." in said
    assert "Understood: 30 mL of base." in said


def test_an_addition_is_said_in_colored_plastic(owner_client, live, old):
    into = live.mix()
    address = url("batch_add", into)
    assert HOW in text_of(owner_client.get(address))
    send(owner_client, address, what=f"lot-{old.lot_id}", amount="50 mL")
    assert fresh(into.lot).made == micro(140)


def test_amending_speaks_of_the_plastic_as_it_was_said(owner_client, live, old):
    mix(owner_client, again(live, old), use="50 mL")
    batch = newest()
    address = url("batch_amend", batch)
    page = owner_client.get(address)
    name = next(f.name for f in page.context["form"].line_fields if f.value() == "50 mL")
    assert "Booked: 40 mL of base." in text_of(page)
    send(owner_client, address, **{name: "100 mL", "reason": "read wrongly"})
    batch.refresh_from_db()
    assert drawn(batch, old.lot).quantity == -micro(80)
    send(owner_client, address, **{name: "all of it", "reason": "nothing was left"})
    batch.refresh_from_db()
    assert drawn(batch, old.lot).quantity == -micro(100)
    assert audited() == []


def test_plastic_that_nobody_spoke_of_is_shown_as_the_cup_had_it(owner_client, live, old):
    batch = live.mix(60, version=None, more=[live.part(old.lot.item, 40, lot=old.lot)])
    page = owner_client.get(url("batch_amend", batch))
    assert "50 mL" in [field.value() for field in page.context["form"].line_fields]
    send(owner_client, url("batch_amend", batch), reason="nothing, really")
    batch.refresh_from_db()
    assert drawn(batch, old.lot).quantity == -micro(40)


def test_the_batch_tells_the_base_and_the_words(owner_client, live, old):
    mix(owner_client, again(live, old), use="50 mL")
    assert "40 mL of base 50 mL" in text_of(owner_client.get(url("batch", newest())))
