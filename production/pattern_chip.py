"""A pattern's chip: from the doses of its layers to the colors and flake that are drawn."""

import contextlib
from collections.abc import Iterable
from decimal import Decimal

from inventory import units
from inventory.models import Item
from production import chip
from production.models import Dose, Layer, RecipeVersion

# Where the jar names no size: a common one (common practice, no source).
USUAL_FLAKE_IN = Decimal("0.035")


def pattern_layers(layers: Iterable[Layer]) -> list[chip.Layer]:
    """What `chip.svg` draws for the layers, from back to belly; asks nothing of the database when
    layers, versions, doses and items were fetched before."""
    return [version_layer(layer.version, layer.share / 1_000_000) for layer in layers]


def version_layer(version: RecipeVersion, share: float = 1.0) -> chip.Layer:
    """One recipe version as one layer. Items without a color are not drawn."""
    doses = [dose for dose in version.doses.all() if chip.HEX.fullmatch(dose.item.color)]
    tints = [
        (dose.item.color, _per_ml(dose, version, "mL"), dose.item.color_kind)
        for dose in doses
        if dose.item.kind == Item.Kind.COLORANT
    ]
    flakes = [_flake(dose, version) for dose in doses if dose.item.kind == Item.Kind.FLAKE]
    return chip.Layer(chip.mix_color(tints), chip.mix_opacity(tints), flakes, share)


def version_color(version: RecipeVersion | None) -> str:
    """A recipe version's color as #rrggbb; "" where it has none that can be drawn."""
    if version is None:
        return ""
    try:
        return version_layer(version).color
    except chip.ChipError:
        return ""


def _flake(dose: Dose, version: RecipeVersion) -> chip.Flake:
    size_mm = float((dose.item.flake_size_in or USUAL_FLAKE_IN) * units.MM_PER_INCH)
    grams = _per_ml(dose, version, "g")
    return chip.Flake(dose.item.color, size_mm, chip.flakes_per_ml(grams, size_mm))


def _per_ml(dose: Dose, version: RecipeVersion, unit: str) -> float:
    """The dose per mL of base in `unit`; for the eye 1 g stands for 1 mL where no density is known."""
    amount = units.from_micro(dose.quantity)
    with contextlib.suppress(units.UnitsError):
        amount = units.convert(amount, dose.item.stock_unit, unit, **dose.item.facts())
    return float(amount / version.reference_ml)
