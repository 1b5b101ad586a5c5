"""Keeping what the bench measures and pours with: scale, hot readings, empty cups, injectors."""

from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

from django.db import transaction

from production.models import Bench, Cup, Injector
from production.services.refusals import Refusal, keep, refuse_taken_name

_TENTH, _HUNDREDTH, _THOUSANDTH = Decimal("0.1"), Decimal("0.01"), Decimal("0.001")


@transaction.atomic
def save_bench(
    *,
    hot_factor: Decimal | None = None,
    measured_on: date | None = None,
    scale_step_g: Decimal | None = None,
    heel_ml: Decimal | None = None,
    **planning: Decimal | int | str,
) -> Bench:
    """Changes what is given of how this shop measures and plans.

    planning: the other figures of `Bench` that plans and promises count with, by name.

    measured_on: the day on which `hot_factor` was measured; a factor that is typed without one is no
    longer a measured one. Raises Refusal outside 0.7 to 1."""
    bench = Bench.objects.select_for_update().filter(pk=1).first() or Bench(pk=1)
    if hot_factor is not None:
        factor = hot_factor.quantize(_THOUSANDTH, ROUND_HALF_EVEN)
        if measured_on or factor != bench.hot_factor:
            bench.hot_factor, bench.hot_factor_measured_on = factor, measured_on
    if scale_step_g is not None:
        bench.scale_step_g = scale_step_g.quantize(_THOUSANDTH, ROUND_HALF_EVEN)
    if heel_ml is not None:
        bench.heel_ml = heel_ml.quantize(_TENTH, ROUND_HALF_EVEN)
    for name, value in planning.items():
        setattr(bench, name, value)
    keep(bench)
    return bench


@transaction.atomic
def keep_tare(cup: Cup, grams: Decimal) -> Cup:
    """Keeps what an empty cup weighs. Raises Refusal when it weighs nothing."""
    cup.tare_g = grams.quantize(_HUNDREDTH, ROUND_HALF_EVEN)
    keep(cup)
    return cup


@transaction.atomic
def save_injector(
    *,
    injector: Injector | None = None,
    name: str,
    barrels: int,
    barrel_ml: Decimal,
    residue_ml: Decimal = Decimal(0),
    first_bore_mm: Decimal | None = None,
    second_bore_mm: Decimal | None = None,
    notes: str = "",
    archived: bool = False,
) -> Injector:
    """Makes or changes an injector. Volumes are mL of each barrel, bores mm.

    Raises Refusal: name taken, a barrel that keeps all it holds, or bores that do not match the
    barrels: two are written down for two barrels, or none."""
    injector = injector or Injector()
    refuse_taken_name(Injector.objects.exclude(pk=injector.pk), name.strip(), "injector")
    if residue_ml >= barrel_ml:
        raise Refusal("What stays behind is less than the barrel holds.", field="residue_ml")
    if barrels == 1 and (first_bore_mm or second_bore_mm):
        field = "first_bore_mm" if first_bore_mm else "second_bore_mm"
        raise Refusal("Bores matter where two barrels differ. Leave them out.", field=field)
    if (first_bore_mm is None) != (second_bore_mm is None):
        field = "second_bore_mm" if second_bore_mm is None else "first_bore_mm"
        raise Refusal("Write down both bores, or neither.", field=field)
    injector.name, injector.barrels = name.strip(), barrels
    injector.barrel_ml = barrel_ml.quantize(_THOUSANDTH, ROUND_HALF_EVEN)
    injector.residue_ml = residue_ml.quantize(_THOUSANDTH, ROUND_HALF_EVEN)
    injector.first_bore_mm = first_bore_mm and first_bore_mm.quantize(_HUNDREDTH)
    injector.second_bore_mm = second_bore_mm and second_bore_mm.quantize(_HUNDREDTH)
    injector.notes, injector.archived = notes, archived
    keep(injector)
    return injector
