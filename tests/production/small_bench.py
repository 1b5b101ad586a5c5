"""A small bench for tests of shots: one cup, one mold of four baits, whose figures are easy by hand."""

import inventory.audit
import production.audit
from inventory.models import Lot
from production import tally
from production.models import Shots, Sorting
from production.services import batches, shots, sorting
from tests import factories
from tests.factories import key, micro


class Bench:
    """A cup of 400 mL that cost 20, and a mold of four 5 mL baits with 6 mL of sprue."""

    def __init__(self) -> None:
        self.pour = factories.make_pour()
        base = factories.make_plastisol()
        factories.make_lot(base, 400, 20)
        self.version = factories.make_recipe("Bare Reed", grade=base, doses={})
        self.pattern = self.version.layers.get().pattern
        self.mold = factories.make_mold()
        self.bait = self.mold.cavities.get().bait
        parts = [batches.Part(base, micro(400))]
        self.batch = batches.mix(
            key=key(), pour=self.pour, version=self.version, parts=parts, by=None
        ).batch

    def shoot(self, good=4, seconds=0, count=1, **more) -> Shots:
        result = shots.Result(self.bait, good, seconds, more.pop("reasons", ()))
        return shots.shoot(
            key=key(),
            pour=self.pour,
            mold=self.mold,
            pattern=self.pattern,
            batches=[self.batch],
            count=count,
            results=[result],
            by=None,
            **more,
        ).shots

    def sort(self, of, fate="reject", reason="air", count=1) -> Sorting:
        return sorting.sort_out(
            key=key(), shots=of, bait=self.bait, fate=fate, reason=reason, count=count, by=None
        ).sorting

    def counted(self) -> tuple[int, int, int, int]:
        found = tally.of(Shots.objects.filter(pour=self.pour, entry__reversed_by=None))
        return found.cavities, found.good, found.seconds, found.rejects


def lots_of() -> dict[str, tuple]:
    return {
        f"{lot.item} {lot.form}": (lot.on_hand, lot.cost)
        for lot in Lot.objects.filter(on_hand__gt=0)
    }


def books() -> list[str]:
    return [*inventory.audit.findings(), *production.audit.findings()]
