"""A small shop to plan an evening in, whose figures are easy by hand."""

from decimal import Decimal

from production.models import Bench, Cup, Pattern
from production.services import batches, leftovers
from tests import factories
from tests.factories import key, micro


class PlanBench:
    """Base at .05 a mL, moss at .20 a mL, soot at .20 a mL; two cups of 400 mL; a mold of four 5 mL
    baits whose shot is 26 mL. Pale holds 1 mL of moss in 100 mL of base, Deep 4 mL, Ink 3 mL of soot.

    A washed cup costs .50, cold plastic .10; the heel is 10 mL."""

    def __init__(self, cups: int = 2, most_ml: int = 400) -> None:
        self.base = factories.make_plastisol(melt_limit=4)
        self.base_lot = factories.make_lot(self.base, 4000, 200)
        self.moss = factories.make_item(
            name="Moss tint", color="#2f6b3a", ml_per_drop=Decimal("0.05")
        )
        factories.make_lot(self.moss, 100, 20)
        self.soot = factories.make_item(name="Soot tint", color="#222222")
        factories.make_lot(self.soot, 50, 10)
        self.pale = factories.make_recipe("Pale", grade=self.base, doses={self.moss: 1})
        self.deep = factories.make_recipe("Deep", grade=self.base, doses={self.moss: 4})
        self.ink = factories.make_recipe("Ink", grade=self.base, doses={self.soot: 3})
        for number in range(1, cups + 1):
            factories.make_cup(number, most_ml)
        self.mold = factories.make_mold()
        self.bait = self.mold.cavities.get().bait
        Bench.objects.create(pk=1)

    def pattern(self, name: str) -> Pattern:
        return Pattern.objects.get(name=name)

    def wish(self, name: str, baits: int) -> dict:
        return {"bait": self.bait.pk, "pattern": self.pattern(name).pk, "baits": baits}

    def jar(self, version=None, base: int = 60):
        """A puck of so many mL of base, of Pale unless told otherwise, from an evening before."""
        version = version or self.pale
        pour = factories.make_pour()
        doses = [
            batches.Part(dose.item, dose.quantity * base // 100) for dose in version.doses.all()
        ]
        parts = [batches.Part(self.base, micro(base)), *doses]
        batch = batches.mix(
            key=key(), pour=pour, version=version, parts=parts, cup=None, by=None
        ).batch
        leftovers.settle(key=key(), batch=batch, measured=micro(base), then="puck", by=None)
        pour.closed_at = pour.started_at
        pour.save()
        batch.lot.refresh_from_db()
        return batch.lot

    def forget_cups(self) -> None:
        Cup.objects.all().delete()
