"""Five batches, each made from the one before, trim going back in, then a laminate of two of them.

Every figure is worked out beside the books, with fractions and nothing of the app's own arithmetic."""

from fractions import Fraction as F

import pytest
from django.db.models import Sum

import inventory.audit
import production.audit
from inventory import queries
from inventory.models import Lot, Movement
from production.models import Batch, Pattern, Product, ProductContent
from production.services import bagging, batches, shots
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db

#: Each posting rounds once to a millionth; a chain of this length stays within so many of them.
CLOSE = 60
#: 4 baits of 5 mL to a shot of 26 mL.
SHOT, BAIT, CAVITIES = 26, 5, 4
BASE_PRICE, DYE_PRICE = F(5, 100), F(20, 100)


class Plastic:
    """Base, dye, cost and melts of a quantity of plastic, by hand."""

    def __init__(self, base=0, dye=0, cost=0, melts=0):
        self.base, self.dye, self.cost, self.melts = F(base), F(dye), F(cost), melts

    @property
    def total(self):
        return self.base + self.dye

    def take(self, base) -> "Plastic":
        """Takes so much base, with its dye and its cost."""
        share = F(base) / self.base
        out = Plastic(base, self.dye * share, self.cost * share, self.melts)
        self.base, self.dye, self.cost = (
            self.base - out.base,
            self.dye - out.dye,
            self.cost - out.cost,
        )
        return out

    def give(self, *parts: "Plastic") -> "Plastic":
        for part in parts:
            self.base += part.base
            self.dye += part.dye
            self.cost += part.cost
            self.melts = max(self.melts, part.melts)
        return self


def fresh(base, dye) -> Plastic:
    return Plastic(base, dye, base * BASE_PRICE + dye * DYE_PRICE)


def mixed(*parts: Plastic) -> Plastic:
    cup = Plastic().give(*parts)
    cup.melts += 1
    return cup


def shot(cups, shares, count, good, drawn):
    """Baits and trim of `count` shots. `drawn`: base taken from each cup; empty, it is the mold's volume
    by shares, each at its cup's base share, and is noted there: what was poured stays what it was."""
    if not drawn:
        pairs = zip(cups, shares, strict=True)
        drawn += [SHOT * count * share * cup.base / cup.total for cup, share in pairs]
    mix = Plastic().give(*(cup.take(base) for cup, base in zip(cups, drawn, strict=True)))
    return mix.take(mix.base * F(good * BAIT, SHOT * count)), mix


class Chain:
    """The same evening twice: in the books, and by hand."""

    def __init__(self) -> None:
        self.base, self.dye = factories.make_plastisol(), factories.make_item(name="Plum dye")
        self.base_lot = factories.make_lot(self.base, 4000, 200)  # .05 a mL
        self.dye_lot = factories.make_lot(self.dye, 400, 80)  # .20 a mL
        self.pour, self.mold = factories.make_pour(), factories.make_mold()
        self.bait = self.mold.cavities.get().bait
        self.versions = [
            factories.make_recipe(f"Plum {n}", grade=self.base, doses={self.dye: n})
            for n in range(1, 6)
        ]
        self.laminate = factories.make_laminate(
            "Plum over Plum", [self.versions[3], self.versions[4]], [600_000, 400_000]
        )
        self.made: list[Batch] = []
        self.shots = []

    def mix(self, number, base, dye, *more) -> Batch:
        parts = [
            batches.Part(self.base, micro(base), self.base_lot),
            batches.Part(self.dye, micro(dye), self.dye_lot),
            *(batches.Part(lot.item, micro(ml), lot) for lot, ml in more),
        ]
        entry = batches.mix(
            key=key(), pour=self.pour, version=self.versions[number], parts=parts, by=None
        )
        self.made.append(entry.batch)
        return entry.batch

    def shoot(self, made, count, good, pattern=None):
        pattern = pattern or Pattern.objects.get(
            layers__version=made[0].version, layers__share=1_000_000
        )
        logged = shots.shoot(
            key=key(),
            pour=self.pour,
            mold=self.mold,
            pattern=pattern,
            batches=made,
            count=count,
            results=[shots.Result(self.bait, good)],
            by=None,
        ).shots
        self.shots.append(logged)
        return logged

    def pour_all(self) -> None:
        """Each batch takes 60 mL of the one before and 8 mL of its trim."""
        for number in range(5):
            more = []
            if number:
                before = Lot.objects.select_related("item").get(pk=self.made[-1].lot_id)
                more = [(before, 60), (self.shots[-1].trim_lot, 8)]
            batch = self.mix(number, 240, 2 * (number + 1), *more)
            self.shoot([batch], 4, 15)
        self.shoot([self.made[3], self.made[4]], 3, 11, self.laminate)


def by_hand(drawn, first_dye=2) -> tuple[list[Plastic], list[Plastic], list[Plastic]]:
    """Baits of the five batches and the laminate, their trims, and what is left in the five cups."""
    cups, baits, trims = [], [], []
    for number in range(5):
        parts = [fresh(240, first_dye if number == 0 else 2 * (number + 1))]
        if number:
            parts += [cups[-1].take(60), trims[-1].take(8)]
        cups.append(mixed(*parts))
        bait, trim = shot([cups[-1]], [F(1)], 4, 15, drawn[number])
        baits.append(bait)
        trims.append(trim)
    bait, trim = shot([cups[3], cups[4]], [F(6, 10), F(4, 10)], 3, 11, drawn[5])
    return [*baits, bait], [*trims, trim], cups


def nothing_drawn() -> list[list[F]]:
    return [[] for _ in range(6)]


def bait_lots(chain) -> list[Lot]:
    return [Lot.objects.get(pk=one.results.get().good_lot_id) for one in chain.shots]


def agree(chain, baits, trims, cups) -> None:
    for lot, one, plastic in zip(bait_lots(chain), chain.shots, baits, strict=True):
        made = Movement.objects.filter(entry=one.entry, lot=lot, role="made")
        found = queries.composition(lot)
        assert abs(found[chain.base.pk] - micro_of(plastic.base)) < CLOSE
        assert abs(found[chain.dye.pk] - micro_of(plastic.dye)) < CLOSE
        cost = made.aggregate(total=Sum("cost"))["total"] + revalued(made)
        assert abs(cost - micro_of(plastic.cost)) < CLOSE
        assert lot.melts == plastic.melts
    for one, plastic in zip(chain.shots, trims, strict=True):
        trim = Lot.objects.get(pk=one.trim_lot_id)
        assert abs(trim.on_hand - micro_of(plastic.base)) < CLOSE
        assert abs(trim.cost - micro_of(plastic.cost)) < CLOSE
    for batch, plastic in zip(chain.made, cups, strict=True):
        left = Lot.objects.get(pk=batch.lot_id)
        assert abs(left.on_hand - micro_of(plastic.base)) < CLOSE
        assert abs(left.cost - micro_of(plastic.cost)) < CLOSE
        assert left.melts == plastic.melts


def micro_of(value: F) -> F:
    return value * 1_000_000


def revalued(lines) -> int:
    found = Movement.objects.filter(revalues__in=lines)
    return found.aggregate(total=Sum("cost", default=0))["total"]


def audited() -> list[str]:
    return [*inventory.audit.findings(), *production.audit.findings()]


@pytest.fixture
def chain(shop):
    chain = Chain()
    chain.pour_all()
    return chain


def test_every_bait_lot_of_the_chain_is_what_hand_calculation_says(chain):
    agree(chain, *by_hand(nothing_drawn()))
    assert [batch.lot.melts for batch in chain.made] == [1, 2, 3, 4, 5]
    assert audited() == []


def test_amending_the_first_batch_after_bagging_derives_the_whole_chain_again(chain, owner):
    bag(chain)
    drawn = nothing_drawn()
    by_hand(drawn)
    first = chain.made[0]
    batches.amend(
        key=key(),
        batch=first,
        parts=[
            batches.Part(chain.base, micro(240), chain.base_lot),
            batches.Part(chain.dye, micro(7), chain.dye_lot, said="7 mL, not 2"),
        ],
        reason="Wrote the wrong dose",
        by=owner,
    )
    agree(chain, *by_hand(drawn, first_dye=7))
    assert audited() == []
    old = first.entry
    old.refresh_from_db()
    assert old.amended_by.note == "Wrote the wrong dose"


def bag(chain) -> None:
    """Three bags of the first batch's baits."""
    item = factories.make_item("product", "Bag of plums", "each")
    product = Product.objects.create(item=item, price_minor=400)
    pattern = chain.shots[0].pattern
    ProductContent.objects.create(product=product, bait=chain.bait, pattern=pattern, count=5)
    bagging.bag(key=key(), product=product, bags=3, by=None)
