"""The bench's tables as sheets: each row is read as it is written, never all of them at once."""

from collections.abc import Iterator

from django.db.models import OuterRef, Prefetch, Subquery

from inventory import amounts, units
from inventory.exchange.writing import Sheet, Value
from inventory.exports import CHUNK, money, quantity, sheet
from production import mold_sheet as mold_columns
from production import recipe_sheet as recipe_columns
from production import said
from production.models import (
    Bagging,
    Bait,
    Batch,
    Cavity,
    Cup,
    Dose,
    DoseStandIn,
    Layer,
    Mold,
    Pour,
    Product,
    ProductContent,
    ProductPackaging,
    RecipeVersion,
    ShotReject,
    ShotResult,
)


def mold_sheet() -> Sheet:
    """The molds in use, in the columns that can be loaded again."""
    names = [column.name for column in mold_columns.COLUMNS]

    def rows() -> Iterator[list[Value]]:
        cavities = Cavity.objects.select_related("bait", "part")
        molds = Mold.objects.filter(archived=False).prefetch_related(
            Prefetch("cavities", queryset=cavities)
        )
        for mold in molds.iterator(chunk_size=CHUNK):
            facts: dict[str, Value] = {
                "shot volume": f"{_figure(mold.shot_ml)} mL",
                "copies": mold.copies,
                "minutes per cycle": mold.minutes_per_cycle,
                "notes": mold.notes,
            }
            for cavity in mold.cavities.all():
                cells = {**facts, "mold": mold.name, **_cavity_cells(cavity)}
                yield [cells.get(name) for name in names]
                facts = {}

    return Sheet("molds", names, rows)


def _cavity_cells(cavity: Cavity) -> dict[str, Value]:
    return {
        "bait": cavity.bait.name,
        "bait length": f"{_figure(cavity.bait.length_mm)} mm",
        "flat": cavity.bait.flat,
        "cavities": cavity.count,
        "bait volume": f"{_figure(cavity.bait_ml)} mL",
        "part": cavity.part.name if cavity.part else None,
        "parts each": cavity.parts_each if cavity.part else None,
    }


def recipe_sheet() -> Sheet:
    """The recipes in use, each in its newest version, in the columns that can be loaded again."""
    names = [column.name for column in recipe_columns.COLUMNS]

    def rows() -> Iterator[list[Value]]:
        newest = RecipeVersion.objects.filter(recipe=OuterRef("recipe")).order_by("-number")
        versions = (
            RecipeVersion.objects.filter(
                recipe__archived=False, pk=Subquery(newest.values("pk")[:1])
            )
            .select_related("recipe", "grade")
            .prefetch_related(Prefetch("doses", queryset=Dose.objects.select_related("item")))
            .order_by("recipe__name")
        )
        for version in versions.iterator(chunk_size=CHUNK):
            facts: dict[str, Value] = {
                "base": version.grade.name,
                "doses are for": _reference(version),
                "notes": version.notes,
            }
            for dose in list(version.doses.all()) or [None]:
                cells = {**facts, "recipe": version.recipe.name, **_dose_cells(dose)}
                yield [cells.get(name) for name in names]
                facts = {}

    return Sheet("recipes", names, rows)


def _dose_cells(dose: Dose | None) -> dict[str, Value]:
    if dose is None:
        return {}
    return {
        "kind": dose.item.kind,
        "item": dose.item.name,
        "amount": said.said(dose.amount, dose.unit),
    }


def _reference(version: RecipeVersion) -> str:
    """As said, where that reads back as the same volume; else in mL."""
    try:
        amount = amounts.parse(version.reference_said)
        if round(units.convert(amount.value, amount.unit, "mL"), 6) == version.reference_ml:
            return version.reference_said
    except ValueError:
        pass
    return f"{_figure(version.reference_ml)} mL"


def _figure(value) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def sheets() -> list[Sheet]:
    """Every table of the bench."""
    return [
        mold_sheet(),
        recipe_sheet(),
        sheet(
            "cups",
            "number, empty weight g, least fill mL, largest fill mL, archived",
            Cup.objects.order_by("number"),
            *("number", "tare_g", "least_ml", "most_ml", "archived"),
        ),
        sheet(
            "baits",
            "id, name, length mm, flat, archived",
            Bait.objects.order_by("id"),
            *("id", "name", "length_mm", "flat", "archived"),
        ),
        sheet(
            "all molds",
            "id, name, one shot mL, copies, minutes per cycle, notes, archived",
            Mold.objects.order_by("id"),
            *("id", "name", "shot_ml", "copies", "minutes_per_cycle", "notes", "archived"),
        ),
        sheet(
            "cavities",
            "mold id, mold, bait, cavities, one bait mL, part, parts each",
            Cavity.objects.select_related("mold", "bait", "part").order_by("id"),
            *("mold_id", "mold__name", "bait__name", "count", "bait_ml", "part__name"),
            "parts_each",
        ),
        sheet(
            "recipe versions",
            "id, recipe, version, base plastisol, doses are for, mL of base, written at, first poured "
            "at, notes, archived",
            RecipeVersion.objects.select_related("recipe", "grade").order_by("id"),
            *("id", "recipe__name", "number", "grade__name", "reference_said", "reference_ml"),
            *("written_at", "frozen_at", "notes", "recipe__archived"),
        ),
        sheet(
            "doses",
            "version id, recipe, version, kind, item, amount, unit, in stock unit, stock unit",
            Dose.objects.select_related("version__recipe", "item").order_by("id"),
            *("version_id", "version__recipe__name", "version__number", "item__kind"),
            *("item__name", "amount", "unit", lambda row: quantity(row.quantity)),
            "item__stock_unit",
        ),
        sheet(
            "stand-ins",
            "recipe, version, item, stand-in",
            DoseStandIn.objects.select_related(
                "dose__version__recipe", "dose__item", "item"
            ).order_by("id"),
            *("dose__version__recipe__name", "dose__version__number", "dose__item__name"),
            "item__name",
        ),
        sheet(
            "patterns",
            "pattern id, pattern, layer, side, share, recipe, version, archived",
            Layer.objects.select_related("pattern", "version__recipe").order_by(
                "pattern_id", "position"
            ),
            *("pattern_id", "pattern__name", "position", "side", lambda row: quantity(row.share)),
            *("version__recipe__name", "version__number", "pattern__archived"),
        ),
        sheet(
            "products",
            "id, item id, product, price, barcode, archived",
            Product.objects.select_related("item").order_by("id"),
            *("id", "item_id", "item__name", lambda row: money(row.price_minor), "barcode"),
            "item__archived",
        ),
        sheet(
            "product contents",
            "product id, product, bait, pattern, count",
            ProductContent.objects.select_related("product__item", "bait", "pattern").order_by(
                "id"
            ),
            *("product_id", "product__item__name", "bait__name", "pattern__name", "count"),
        ),
        sheet(
            "product packaging",
            "product id, product, item, quantity, stock unit",
            ProductPackaging.objects.select_related("product__item", "item").order_by("id"),
            *("product_id", "product__item__name", "item__name"),
            *(lambda row: quantity(row.quantity), "item__stock_unit"),
        ),
        sheet(
            "pours",
            "id, business date, started at, closed at, note",
            Pour.objects.order_by("id"),
            *("id", "business_date", "started_at", "closed_at", "note"),
        ),
        sheet(
            "batches",
            "id, pour id, number, lot, entry id, recipe, version, cup, total mL, mixed at, degassed, "
            "verdict, became",
            Batch.objects.select_related("lot", "version__recipe", "cup").order_by("id"),
            *("id", "pour_id", "number", "lot__number", "entry_id", "version__recipe__name"),
            *("version__number", "cup__number", lambda row: quantity(row.total), "mixed_at"),
            *("degassed", "verdict", "settled"),
        ),
        sheet(
            "shots",
            "shots id, pour id, entry id, mold, pattern, injector, shots, bait, cavities, good, "
            "seconds, rejects, good lot, second lot",
            ShotResult.objects.select_related(
                "shots__mold", "shots__pattern", "shots__injector", "bait", "good_lot", "second_lot"
            ).order_by("id"),
            *("shots_id", "shots__pour_id", "shots__entry_id", "shots__mold__name"),
            *("shots__pattern__name", "shots__injector__name", "shots__count", "bait__name"),
            *("cavities", "good", "seconds", "rejects", "good_lot__number", "second_lot__number"),
        ),
        sheet(
            "rejects",
            "shots id, bait, reason, count",
            ShotReject.objects.select_related("result__bait").order_by("id"),
            *("result__shots_id", "result__bait__name", "reason", "count"),
        ),
        sheet(
            "bagging",
            "entry id, product, lot, bags, finishing minutes",
            Bagging.objects.select_related("product__item", "lot").order_by("id"),
            *("entry_id", "product__item__name", "lot__number", "bags", "minutes"),
        ),
    ]
