"""What a new shop does first, in order, and what of it is done."""

from dataclasses import dataclass

from django.db.models import Exists, QuerySet

from inventory.models import Lot
from production.models import Cup, Mold, Pour, Product, RecipeVersion
from shop.models import Shop


@dataclass(frozen=True)
class Step:
    text: str
    why: str
    url_name: str
    done: bool
    #: The first one that is not done.
    current: bool


#: What to do, why, where, and the rows that show it was done.
_STEPS: list[tuple[str, str, str, QuerySet]] = [
    (
        "Write down what is on the shelf",
        "Every bottle, jar and pail, about how much, and what it cost if you know.",
        "inventory:opening",
        Lot.objects.all(),
    ),
    (
        "Number your cups",
        "The heat-proof ones you pour from, with their empty weight.",
        "production:cups",
        Cup.objects.all(),
    ),
    (
        "Add a mold and its bait",
        "How many cavities, and how much plastic one shot takes.",
        "production:mold_new",
        Mold.objects.all(),
    ),
    (
        "Write a recipe",
        "Drops and spoons for a cup of plastic, as you do it now.",
        "production:recipe_new",
        RecipeVersion.objects.all(),
    ),
    (
        "Make a product of it",
        "So many baits to a bag, with its packaging and price.",
        "production:product_new",
        Product.objects.all(),
    ),
    (
        "Start a pour",
        "One evening at the bench, on a phone beside the cups.",
        "production:pour_start",
        Pour.objects.all(),
    ),
]


def steps() -> list[Step]:
    """The first steps, in order. One query."""
    names = [f"step_{number}" for number in range(len(_STEPS))]
    seen = (
        Shop.objects.annotate(
            **{name: Exists(rows.all()) for name, (*_, rows) in zip(names, _STEPS, strict=True)}
        )
        .values_list(*names)
        .first()
    ) or [False] * len(_STEPS)
    first = next((number for number, done in enumerate(seen) if not done), None)
    return [
        Step(text, why, url, bool(seen[number]), number == first)
        for number, (text, why, url, _) in enumerate(_STEPS)
    ]
