"""What the bench uses an item of the shelf for: recipes by dose or grade, cavities, bags."""

from collections.abc import Callable, Iterable

from django.db.models import F, Max, QuerySet
from django.urls import reverse

from inventory import amounts, wording
from inventory.models import Item
from inventory.usages import Usage
from production.models import Cavity, Dose, ProductContent, ProductPackaging, RecipeVersion

Kind = Item.Kind


def of_item(item: Item, most: int) -> Iterable[Usage]:
    """At most so many usages; one query or two, by what its kind can be used in."""
    for finder in _FINDERS.get(item.kind, ()):
        found = list(finder(item, most))
        yield from found
        most -= len(found)
        if most <= 0:
            return


def _current() -> QuerySet[RecipeVersion]:
    """The newest version of every recipe that is not put away."""
    versions = RecipeVersion.objects.filter(recipe__archived=False)
    return versions.annotate(newest=Max("recipe__versions__number")).filter(number=F("newest"))


def _as_grade(item: Item, most: int) -> Iterable[Usage]:
    for version in _current().filter(grade=item).select_related("recipe")[:most]:
        yield Usage(version.recipe.name, _recipe(version), "its plastisol")


def _as_dose(item: Item, most: int) -> Iterable[Usage]:
    doses = Dose.objects.filter(item=item, version__in=_current().values("pk"))
    for dose in doses.select_related("version__recipe").order_by("version__recipe__name")[:most]:
        said = f"{amounts.show(dose.amount, dose.unit)} for {dose.version.reference_said}"
        yield Usage(dose.version.recipe.name, _recipe(dose.version), said)


def _in_cavities(item: Item, most: int) -> Iterable[Usage]:
    cavities = Cavity.objects.filter(part=item, mold__archived=False)
    for cavity in cavities.select_related("mold", "bait").order_by("mold__name", "id")[:most]:
        url = reverse("production:mold", args=[cavity.mold_id])
        yield Usage(cavity.mold.name, url, f"{cavity.parts_each} in each {cavity.bait}")


def _as_packaging(item: Item, most: int) -> Iterable[Usage]:
    packaging = ProductPackaging.objects.filter(item=item, product__item__archived=False)
    rows = packaging.select_related("product__item").order_by("product__item__name")
    for row in rows[:most]:
        quantity = wording.quantity_text(row.quantity, item.stock_unit)
        yield Usage(str(row.product), _product(row.product_id), f"{quantity} to a bag")


def _as_bait(item: Item, most: int) -> Iterable[Usage]:
    contents = ProductContent.objects.filter(
        bait__loose__item=item,
        bait__loose__second=False,
        pattern=F("bait__loose__pattern"),
        product__item__archived=False,
    )
    rows = contents.select_related("product__item").order_by("product__item__name", "id")
    for row in rows[:most]:
        yield Usage(str(row.product), _product(row.product_id), f"{row.count} to a bag")


def _recipe(version: RecipeVersion) -> str:
    return reverse("production:recipe", args=[version.recipe_id])


def _product(pk: int) -> str:
    return reverse("production:product", args=[pk])


_FINDERS: dict[str, tuple[Callable[[Item, int], Iterable[Usage]], ...]] = {
    Kind.PLASTISOL: (_as_grade,),
    Kind.COLORANT: (_as_dose,),
    Kind.FLAKE: (_as_dose,),
    Kind.ADDITIVE: (_as_dose, _as_packaging),
    Kind.PART: (_in_cavities, _as_packaging),
    Kind.PACKAGING: (_as_packaging,),
    Kind.LOOSE_BAIT: (_as_bait,),
}
