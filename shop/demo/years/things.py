"""The shop's unchanging things, read once with all that hangs on them."""

from dataclasses import dataclass

from inventory.models import Item, Pack, Supplier
from production import tolerances
from production.models import Cup, Mold, Pattern, Product, RecipeVersion
from production.services import batches, recipes
from shop.models import Customer

#: Of so much base a recipe's total volume is worked out.
SAMPLE = 1_000_000_000


@dataclass(frozen=True)
class Work:
    """A pattern that is shot in a mold: one thing that an evening can make."""

    mold: Mold
    pattern: Pattern

    @property
    def depth(self) -> tuple[int, float, str]:
        """Light before dark, one grade after the other."""
        version = self.pattern.layers.all()[0].version
        return version.grade_id, strength(version), self.pattern.name


def strength(version: RecipeVersion) -> float:
    """How much colorant a recipe has, per mL of base."""
    doses = [dose for dose in version.doses.all() if dose.item.kind == Item.Kind.COLORANT]
    return sum(dose.quantity for dose in doses) / float(version.reference_ml)


class Things:
    def __init__(self) -> None:
        self.items = {item.name: item for item in Item.objects.filter(kind__in=Item.BOUGHT)}
        self.dosed = {str(i.pk): i for i in self.items.values() if i.kind in Item.DOSED}
        kinds = tolerances.by_kind()
        self.tolerance = {pk: tolerances.of(item, kinds) for pk, item in self.dosed.items()}
        self.suppliers = {one.name: one for one in Supplier.objects.all()}
        packs = Pack.objects.select_related("item__place", "supplier").prefetch_related("breaks")
        self.packs: dict[str, list[Pack]] = {}
        for pack in packs.order_by("item__name", "-quantity", "pk"):
            self.packs.setdefault(pack.item.name, []).append(pack)
        self.cups = list(Cup.objects.order_by("most_ml", "number"))
        self.molds = list(Mold.objects.prefetch_related("cavities__bait").order_by("-shot_ml"))
        layers = "layers__version__recipe", "layers__version__grade", "layers__version__doses__item"
        self.patterns = {p.pk: p for p in Pattern.objects.prefetch_related(*layers)}
        contents = "contents__bait", "contents__pattern", "contents__product__item"
        products = Product.objects.select_related("item").prefetch_related(*contents)
        self.products = list(products.order_by("pk"))
        self.customers = list(Customer.objects.order_by("pk"))
        self.works = self._works()
        self._share: dict[int, int] = {}

    def base_of(self, version: RecipeVersion, total: int) -> int:
        """Millionths of a mL of base in `total` of a recipe's mix (`batch_plan.base_for_shots`)."""
        if version.pk not in self._share:
            doses = recipes.doses_for(version, SAMPLE)
            contents = {item.pk: quantity for item, quantity in doses} | {version.grade_id: SAMPLE}
            known = {item.pk: item for item, _quantity in doses} | {version.grade_id: version.grade}
            self._share[version.pk] = batches.volume_of(contents, known)
        return total * SAMPLE // self._share[version.pk]

    def _works(self) -> list[Work]:
        found = {}
        for product in self.products:
            for content in product.contents.all():
                mold = next(mold for mold in self.molds if _holds(mold, content.bait_id))
                work = Work(mold, self.patterns[content.pattern_id])
                found[mold.pk, content.pattern_id] = work
        return list(found.values())


def _holds(mold: Mold, bait: int) -> bool:
    """Whether the mold makes this bait without a part in it."""
    return any(cavity.bait_id == bait and not cavity.part_id for cavity in mold.cavities.all())
