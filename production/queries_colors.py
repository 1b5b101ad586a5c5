"""What the pages of colors, molds and products read."""

from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.models import Item
from production.models import (
    Cavity,
    Layer,
    LooseBait,
    Mold,
    Pattern,
    Product,
    Recipe,
    RecipeVersion,
)

#: What a pattern's chip is drawn from; prefetch it before drawing many.
CHIP = "layers__version__doses__item"


def patterns_with_colors() -> QuerySet[Pattern]:
    """Patterns with all that their chips, layers and recipe names need, in four queries."""
    layers = Layer.objects.select_related("version__recipe", "version__grade")
    return Pattern.objects.prefetch_related(Prefetch("layers", queryset=layers), CHIP)


def find_patterns(text: str, *, archived: bool = False) -> QuerySet[Pattern]:
    """Patterns whose name, or one of whose colorants, flakes or additives, holds the text."""
    found = patterns_with_colors().filter(archived=archived)
    if text:
        dosed = Layer.objects.filter(version__doses__item__name__icontains=text).values("pattern")
        found = found.filter(Q(name__icontains=text) | Q(pk__in=dosed))
    return found


def recipe_versions(recipe: Recipe) -> QuerySet[RecipeVersion]:
    """A recipe's versions, the newest first, with `times_mixed` and their doses."""
    return (
        recipe.versions.order_by("-number")
        .annotate(times_mixed=Count("batches", distinct=True))
        .select_related("grade", "recipe")
        .prefetch_related("doses__item")
    )


def newest_versions() -> QuerySet[RecipeVersion]:
    """The newest version of each recipe that is not put away."""
    newest = RecipeVersion.objects.filter(recipe=OuterRef("recipe")).order_by("-number")
    return (
        RecipeVersion.objects.filter(recipe__archived=False, pk=Subquery(newest.values("pk")[:1]))
        .select_related("recipe")
        .order_by("recipe__name")
    )


def loose_baits(pattern: Pattern) -> QuerySet[LooseBait]:
    """Loose baits in a pattern that are on hand, with `on_hand` in millionths."""
    return (
        LooseBait.objects.filter(pattern=pattern)
        .annotate(on_hand=Coalesce(Sum("item__lots__on_hand"), 0))
        .filter(on_hand__gt=0)
        .select_related("bait", "item")
        .order_by("bait__name", "second")
    )


def molds() -> QuerySet[Mold]:
    """Molds with their cavities, and `sprue_ml`: what one shot holds beyond the baits."""
    return Mold.objects.prefetch_related(
        Prefetch("cavities", queryset=Cavity.objects.select_related("bait", "part"))
    ).annotate(
        sprue_ml=F("shot_ml")
        - Coalesce(
            Subquery(
                Cavity.objects.filter(mold=OuterRef("pk"))
                .order_by()
                .values("mold")
                .annotate(baits=Sum(F("count") * F("bait_ml")))
                .values("baits")
            ),
            0,
            output_field=Mold._meta.get_field("shot_ml").__class__(max_digits=12, decimal_places=3),
        )
    )


def products() -> QuerySet[Product]:
    """Products with contents, chips, packaging, and `bags`: what is on hand, in millionths."""
    return (
        Product.objects.select_related("item")
        .prefetch_related(
            "contents__bait", f"contents__pattern__{CHIP}", "packaging__item", "finishing__item"
        )
        .annotate(bags=Coalesce(Sum("item__lots__on_hand"), 0))
        .order_by("item__name")
    )


def dosed_items(keep: list[int] | None = None) -> QuerySet[Item]:
    """What can be dosed, and archived items still named in `keep`."""
    return Item.objects.filter(Q(archived=False) | Q(pk__in=keep or []), kind__in=Item.DOSED)


def grades(keep: list[int] | None = None) -> QuerySet[Item]:
    """Base plastisols, and archived ones still named in `keep`."""
    return Item.objects.filter(Q(archived=False) | Q(pk__in=keep or []), kind=Item.Kind.PLASTISOL)
