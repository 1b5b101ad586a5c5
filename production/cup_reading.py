"""How much colored plastic a cup holds, from a scale or from its marks, as mL at room temperature."""

from decimal import Decimal

from inventory import amounts, units


def cold_ml(
    amount: amounts.Amount,
    *,
    density_g_per_ml: Decimal | None,
    tare_g: Decimal | None = None,
    hot_factor: Decimal | None = None,
) -> Decimal:
    """Return mL of cold plastic. `tare_g`: the empty cup's weight, when it was weighed in its cup.

    `hot_factor`: cold volume ÷ hot volume, when a volume was read hot; a weight is the same hot or
    cold. Raises UnitsError for a count or drops, a volume with a tare, less than the empty cup, and
    a weight whose density nobody knows."""
    value, unit = amount.value, amount.unit
    if unit == "drop" or units.kind(unit) == "count":
        raise units.UnitsError("Say a volume or a weight: 60 mL, 55 g.")
    weighed = units.kind(unit) == "mass"
    if tare_g is not None:
        if not weighed:
            raise units.UnitsError("A cup's empty weight comes off a weight: write g or oz.")
        value, unit = units.convert(value, unit, "g") - tare_g, "g"
        if value < 0:
            raise units.UnitsError(f"The empty cup alone weighs {tare_g} g.")
    if hot_factor is not None and not weighed:
        value *= hot_factor
    return units.convert(value, unit, "mL", density_g_per_ml=density_g_per_ml)
