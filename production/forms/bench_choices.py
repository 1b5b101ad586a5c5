"""What the bench's forms offer to choose from, in words that tell one from another."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.models import Item, Lot
from inventory.wording import quantity_text
from production import batch_plan, pour_record, queries
from production.models import Batch, Cup, Layer, Mold, Pattern, RecipeVersion, Shots


@dataclass(frozen=True)
class Target:
    """A color to mix: a recipe's version, alone or as a laminate's layer with its share."""

    value: str
    group: str
    label: str
    version: RecipeVersion | None
    share: int = batch_plan.WHOLE


def targets(also: str = "") -> dict[str, Target]:
    """Each recipe's newest version, each layer of a laminate, and a mix by hand: by form value.

    `also`: a version asked for by an open page, kept though a newer one was written meanwhile."""
    found = []
    newest: dict[int, RecipeVersion] = {}
    versions = RecipeVersion.objects.filter(recipe__archived=False).select_related(
        "recipe", "grade"
    )
    for version in versions.order_by("recipe__name", "-number"):
        if str(version.pk) == also:
            newest[version.recipe_id] = version
        newest.setdefault(version.recipe_id, version)
    for version in newest.values():
        found.append(Target(str(version.pk), "Recipes", str(version.recipe), version))
    layers = Layer.objects.filter(share__lt=batch_plan.WHOLE, pattern__archived=False)
    for layer in layers.select_related("pattern", "version__recipe", "version__grade").order_by(
        "pattern__name", "position"
    ):
        label = f"{layer.pattern}, {layer.get_side_display()}: {layer.version.recipe}"
        value = f"{layer.version_id}-{layer.pk}"
        found.append(Target(value, "Laminates", label, layer.version, layer.share))
    found.append(Target("free", "No recipe", "Free hand", None))
    return {target.value: target for target in found}


def grouped(targets: dict[str, Target]) -> list:
    """The targets as a select's choices, group by group."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for target in targets.values():
        groups.setdefault(target.group, []).append((target.value, target.label))
    return [("", "Choose a color"), *groups.items()]


def mold_text(mold: Mold) -> str:
    return f"{mold} · {mold.shot_ml.normalize():f} mL a shot"


def cup_texts() -> dict[int, str]:
    """Each cup's number and largest fill, and what still stands in it, by the cup's id."""
    standing = Batch.objects.filter(
        lot__on_hand__gt=0, lot__form=Lot.Form.LIQUID, cup__isnull=False
    ).select_related("version__recipe")
    held = {
        batch.cup_id: str(batch.version.recipe if batch.version else batch) for batch in standing
    }
    return {
        cup.pk: f"{cup} · up to {cup.most_ml.normalize():f} mL"
        + (f" · holds {held[cup.pk]}" if cup.pk in held else "")
        for cup in Cup.objects.filter(archived=False)
    }


def short_text(batch: Batch) -> str:
    """A batch in a sentence: “Batch 2, Fog Bell”."""
    return f"Batch {batch.number}, {batch.version.recipe if batch.version else 'free hand'}"


def batch_text(batch: Batch) -> str:
    cup = f" · {batch.cup}" if batch.cup else ""
    return f"{batch}{cup} · {quantity_text(pour_record.total_left(batch), 'mL')} left"


def leftovers(*also: str) -> list[Lot]:
    """Poured plastic on hand, each with a `label` that names its color.

    `also`: lots asked for by an open page, kept though they were used up meanwhile."""
    lots = list(queries.leftovers())
    known = {str(lot.pk) for lot in lots}
    asked = [pk for pk in also if pk.isdecimal() and len(pk) < 18 and pk not in known]
    if asked:
        lots += Lot.objects.filter(pk__in=asked, item__kind=Item.Kind.LEFTOVER).select_related(
            "item", "batch__version__recipe"
        )
    for lot, name in zip(lots, leftover_names(lots), strict=True):
        lot.label = (
            f"{name} · {lot.get_form_display()} · {quantity_text(lot.on_hand, 'mL')} of base · "
            f"melt {lot.melts} · {lot.number}"
        )
    return lots


def leftover_names(lots: Iterable[Lot]) -> list[str]:
    """The color of each leftover: its batch's recipe, or the pattern it was trimmed from."""
    lots = list(lots)
    trimmed = Shots.objects.filter(trim_lot__in=[lot.pk for lot in lots]).select_related("pattern")
    patterns = {shots.trim_lot_id: str(shots.pattern) for shots in trimmed}
    return [_name(lot, patterns) for lot in lots]


def _name(lot: Lot, patterns: dict[int, str]) -> str:
    batch = getattr(lot, "batch", None)
    if batch:
        return str(batch.version.recipe) if batch.version else "free hand"
    return patterns.get(lot.pk, lot.item.name)


def patterns(batches: list[Batch]) -> tuple[list[Pattern], list[Pattern]]:
    """Patterns whose every layer was mixed tonight, and all the others, by name."""
    mixed = {batch.version.recipe_id for batch in batches if batch.version}
    fitting, others = [], []
    for pattern in Pattern.objects.filter(archived=False).prefetch_related(
        pour_record.layers_with_doses()
    ):
        layers = pattern.layers.all()
        ready = layers and all(layer.version.recipe_id in mixed for layer in layers)
        (fitting if ready else others).append(pattern)
    return fitting, others


def pattern_groups(fitting: list[Pattern], others: list[Pattern]) -> list:
    """Patterns as a select's choices: what can be shot from tonight's cups comes first."""
    groups = [("From tonight's batches", fitting), ("Other patterns", others)]
    return [
        ("", "Choose a pattern"),
        *((name, [(str(p.pk), str(p)) for p in found]) for name, found in groups if found),
    ]
