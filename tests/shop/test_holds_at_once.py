"""Two people at one order's bags: one holds while the other counts or throws away."""

import pytest

from inventory import audit
from inventory.services import counts
from shop import audit as front
from shop.services import holds, orders
from tests.factories import key, micro
from tests.inventory.test_two_at_once import _together

# A thread that the database turned away must not pass unseen.
pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")


@pytest.mark.django_db(transaction=True)
def test_whoever_holds_and_whoever_counts_never_wait_for_each_other_for_ever(
    make_product, take_order
):
    """A count locks the lot and then tells the order; a hold locks the order and then the lot."""
    product = make_product(bagged=40)
    lot = product.item.lots.get()
    placed = [take_order((product, 6), customer=f"Vale {n}") for n in range(3)]
    for left in range(30, 12, -3):
        deeds = [lambda order=order: holds.hold(order) for order in placed]
        deeds += [
            lambda left=left: counts.count(key=key(), lot=lot, counted=micro(left), by=None),
            lambda: counts.waste(key=key(), lot=lot, quantity=micro(1), reason="mice", by=None),
        ]
        assert _together(deeds) == []
    last = placed[-1]
    assert _together([lambda: orders.cancel(last), lambda: holds.hold(placed[0])]) == []
    assert [*audit.findings(), *front.findings()] == []


@pytest.mark.django_db(transaction=True)
def test_of_two_orders_for_the_last_bag_one_holds_it(make_product, take_order):
    product = make_product(bagged=1)
    placed = [take_order((product, 1), customer=f"Vale {n}") for n in range(5)]
    found: list[int] = []
    deeds = [lambda o=order: found.append(sum(holds.hold(o).values())) for order in placed]
    assert _together(deeds) == []
    assert sorted(found) == [0, 0, 0, 0, 1]
    told = [lambda o=order: holds.hold_line(o.lines.get(), 1) for order in placed]
    refusals = _together(told)
    # whoever holds it already may say so again
    assert len(refusals) == 4 and all("none is free" in str(refusal) for refusal in refusals)
