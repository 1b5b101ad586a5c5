"""What does not look right about a mix. Each is a question with both readings, never a refusal (rule 3)."""

from collections.abc import Mapping

from inventory import units
from inventory.wording import quantity_text
from production.models import Cup, Injector, Pattern, RecipeVersion
from production.services import recipes

#: A zero too many makes ten times the dose; drops are rounded, so the question comes well before that.
MANY_TIMES = 5


def doses(version: RecipeVersion | None, contents: Mapping[int, int], base: int) -> list[str]:
    """Doses that are many times what the recipe asks for, with what it asks for."""
    if version is None or base <= 0:
        return []
    found = []
    for item, target in recipes.doses_for(version, base):
        held = contents.get(item.pk, 0)
        if target and held >= MANY_TIMES * target:
            found.append(
                f"{item}: {quantity_text(held, item.stock_unit)} in the cup, the recipe asks for "
                f"{quantity_text(target, item.stock_unit)}, so that is "
                f"{held / target:.1f} times the dose."
            )
    return found


def cup(cup: Cup | None, total: int) -> list[str]:
    """More than the cup takes; `total` in millionths of a mL of the whole mix."""
    if cup is None or total <= (most := units.to_micro(cup.most_ml)):
        return []
    return [f"{quantity_text(total, 'mL')} is more than {cup} takes ({quantity_text(most, 'mL')})."]


def barrels(injector: Injector | None, pattern: Pattern, layers: int) -> list[str]:
    """An injector whose barrels are not as many as the pattern's layers: they all go in together."""
    if injector is None or injector.barrels == layers:
        return []
    colors = "one color" if layers == 1 else f"{layers} colors"
    return [f"{injector} has {injector.get_barrels_display()}, and {pattern} takes {colors}."]


def melts(melts: int, limit: int | None) -> list[str]:
    """More melts than the grade takes."""
    if not limit or melts <= limit:
        return []
    return [f"This is melt {melts}; its grade takes {limit}. Each melt spends stabilizer."]
