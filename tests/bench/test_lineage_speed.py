"""The family of a bag and of a supplier's pail, in ten years of a shop: under half a second each.

Wall time is the machine's business; so each is held against the time of one plain pass over all movements, which
a walk by brute force would need many of, and the milliseconds are printed."""

import statistics
import time

import pytest

from inventory import lineage, recall
from inventory.models import Item, Lot, Movement
from shop.demo.years import story
from shop.models import User

pytestmark = [pytest.mark.bench, pytest.mark.django_db]
#: What the answer may take on a machine that nobody else uses.
MOST_MS = 500


def milliseconds(do, times=5):
    """The middle one of several, after one that warms up."""
    do()
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        do()
        took.append((time.perf_counter() - begun) * 1000)
    return statistics.median(took)


def test_a_family_in_ten_years_answers_at_once(capsys):
    story.load(owner=User.objects.create_user(username="wren", role="owner"), years=10)
    packs = Lot.objects.filter(form=Lot.Form.PACK)
    bags = list(Lot.objects.filter(form=Lot.Form.BAG).order_by("pk"))
    pails = list(packs.filter(item__kind=Item.Kind.PLASTISOL).order_by("pk"))
    bottles = list(packs.filter(item__kind=Item.Kind.COLORANT).order_by("pk"))
    one_pass = milliseconds(lambda: list(Movement.objects.values_list("entry", "lot", "role")), 3)
    lots = {
        "the newest bag": bags[-1],
        "a bag of the middle": bags[len(bags) // 2],
        "the first pail": pails[0],
        "a pail of the middle": pails[len(pails) // 2],
        "the first bottle": bottles[0],
    }
    said = [f"{Movement.objects.count():,} movements, one pass {one_pass:.0f} ms"]
    slowest = 0.0
    for name, lot in lots.items():
        family = lineage.family(lot)
        took = milliseconds(lambda lot=lot: lineage.family(lot))
        said.append(
            f"{name}: {took:.0f} ms, {len(family.lots)} lots, {len(family.reached)} reached"
        )
        slowest = max(slowest, took)
    took = milliseconds(lambda: recall.of(lineage.family(pails[0], back=False, tell=False)))
    said.append(f"recall of the first pail: {took:.0f} ms")
    with capsys.disabled():
        print("\n" + "\n".join(said))
    assert Movement.objects.count() > 180_000
    assert max(slowest, took) < max(MOST_MS, one_pass), "a family takes no pass over the ledger"
