"""The shelf's tables as sheets: each row is read as it is written, never all of them at once."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Model, Prefetch, QuerySet

from inventory import shelf_sheet as columns
from inventory import units
from inventory.exchange.writing import Sheet, Value
from inventory.models import Entry, Item, Lot, Movement, Pack, Place, Reservation, Supplier

CHUNK = 500


@dataclass(frozen=True)
class TableSheet(Sheet):
    """A sheet of one table."""

    model: type[Model] | None = None


def quantity(millionths: int | None) -> Decimal | None:
    """A quantity or cost kept in millionths, as a plain number; unknown stays empty."""
    return None if millionths is None else units.from_micro(millionths)


def money(minor: int | None) -> Decimal | None:
    """Money kept in the minor unit, as a plain number."""
    return None if minor is None else Decimal(minor).scaleb(-2)


def sheet(name: str, head: str, rows: QuerySet, *values) -> TableSheet:
    """A sheet of one table. `head`: names, parted by commas; `values`: for each an attribute path
    ("item__name") or a function of the row."""
    names = [each.strip() for each in head.split(",")]
    if len(names) != len(values):
        raise TypeError(f"{name}: {len(names)} names for {len(values)} values")

    def lines() -> Iterator[Sequence[Value]]:
        for row in rows.iterator(chunk_size=CHUNK):
            yield [_value(row, each) for each in values]

    return TableSheet(name, names, lines, rows.model)


def _value(row, value) -> Value:
    if callable(value):
        return value(row)
    for step in value.split("__"):
        row = getattr(row, step)
        if row is None:
            return None
    return row


def shelf_sheet() -> Sheet:
    """The shelf as it stands, in the columns that can be loaded again."""
    names = [column.name for column in columns.COLUMNS]

    def rows() -> Iterator[list[Value]]:
        in_stock = Lot.objects.in_stock().select_related("place", "supplier").order_by("id")
        items = (
            Item.objects.current()
            .filter(kind__in=Item.BOUGHT)
            .select_related("place")
            .prefetch_related(Prefetch("lots", queryset=in_stock))
        )
        for item in items.iterator(chunk_size=CHUNK):
            facts = _item_cells(item)
            for lot in item.lots.all():
                cells = {**facts, **_lot_cells(lot)}
                yield [cells.get(name) for name in names]
                # Facts stand once, so that a change is made in one place.
                facts = {name: facts[name] for name in ("kind", "item", "stock unit")}
            if not item.lots.all():
                facts["place"] = str(item.place or "")
                yield [facts.get(name) for name in names]

    return Sheet("shelf", names, rows)


def _item_cells(item: Item) -> dict[str, Value]:
    cells: dict[str, Value] = {
        "kind": item.kind,
        "item": item.name,
        "stock unit": item.stock_unit,
    }
    for name, column in columns.FACTS.items():
        value = getattr(item, name)
        if name in ("minimum", "target"):
            cells[column] = quantity(value) if value else None
        elif name in ("flake_size_in", "heat_limit_c"):
            cells[column] = columns.shown(name, value, item.stock_unit)
        else:
            cells[column] = value
    return cells


def _lot_cells(lot: Lot) -> dict[str, Value]:
    cost = quantity(lot.cost)
    return {
        "on hand": quantity(lot.on_hand),
        "lot number": lot.number,
        "cost": None if cost is None else round(cost, 2),
        "supplier": lot.supplier.name if lot.supplier else "",
        "supplier lot": lot.supplier_lot,
        "expires": lot.expires_on,
        "counted on": lot.received_on,
        "place": lot.place.name if lot.place else "",
    }


def sheets() -> list[Sheet]:
    """Every table of the shelf."""
    lots = Lot.objects.select_related("item", "supplier", "place").order_by("id")
    entries = Entry.objects.select_related("by").order_by("id")
    movements = Movement.objects.select_related("lot__item").order_by("id")
    return [
        shelf_sheet(),
        sheet(
            "items",
            "id, kind, name, stock unit, density g/mL, mL per drop, g per tsp, weight g, color, color kind, "
            "flake size in, flake shape, hardness, hardness scale, heat limit C, melt limit, "
            "shelf life days, hazards, minimum, target, place, notes, archived",
            Item.objects.select_related("place").order_by("id"),
            *("id", "kind", "name", "stock_unit", "density_g_per_ml", "ml_per_drop", "g_per_tsp"),
            *(
                "weight_g",
                "color",
                "color_kind",
                "flake_size_in",
                "flake_shape",
                "hardness",
                "hardness_scale",
            ),
            *("heat_limit_c", "melt_limit", "shelf_life_days", "hazards"),
            *(lambda row: quantity(row.minimum), lambda row: quantity(row.target)),
            *("place__name", "notes", "archived"),
        ),
        sheet(
            "packs",
            "item id, item, supplier, pack, quantity, stock unit, price",
            Pack.objects.select_related("item", "supplier").order_by("id"),
            *("item_id", "item__name", "supplier__name", "name"),
            *(lambda row: quantity(row.quantity), "item__stock_unit"),
            lambda row: money(row.price_minor),
        ),
        sheet(
            "suppliers",
            "id, name, email, phone, lead time days, least order, shipping, notes",
            Supplier.objects.order_by("id"),
            *("id", "name", "email", "phone", "lead_time_days"),
            *(lambda row: money(row.order_minimum_minor), lambda row: money(row.shipping_minor)),
            "notes",
        ),
        sheet("places", "id, name, kind", Place.objects.order_by("id"), "id", "name", "kind"),
        sheet(
            "lots",
            "id, number, item id, kind, item, stock unit, on hand, reserved, cost, supplier, "
            "supplier lot, form, place, received on, expires on, mL per drop, strength, melts, found, "
            "count me",
            lots,
            *("id", "number", "item_id", "item__kind", "item__name", "item__stock_unit"),
            *(lambda row: quantity(row.on_hand), lambda row: quantity(row.reserved)),
            *(lambda row: quantity(row.cost), "supplier__name", "supplier_lot", "form"),
            *("place__name", "received_on", "expires_on", "ml_per_drop", "strength", "melts"),
            *("found", "count_me"),
        ),
        sheet(
            "holds",
            "lot, item, quantity, stock unit, held for, since",
            Reservation.objects.select_related("lot__item").order_by("id"),
            *("lot__number", "lot__item__name", lambda row: quantity(row.quantity)),
            *("lot__item__stock_unit", "holder", "created_at"),
        ),
        sheet(
            "ledger entries",
            "id, kind, title, happened at, posted at, business date, by, reference, undoes entry, "
            "amends entry, wasted mL of base, look at, note",
            entries,
            *("id", "kind", "title", "happened_at", "posted_at", "business_date"),
            *("by__username", "reference", "reverses_id", "amends_id"),
            *(lambda row: quantity(row.wasted), "look_at", "note"),
        ),
        sheet(
            "ledger movements",
            "id, entry id, lot, kind, item, role, quantity, stock unit, cost, mL of base, said, "
            "estimated",
            movements,
            *("id", "entry_id", "lot__number", "lot__item__kind", "lot__item__name", "role"),
            *(lambda row: quantity(row.quantity), "lot__item__stock_unit"),
            *(lambda row: quantity(row.cost), lambda row: quantity(row.base), "said", "estimated"),
        ),
    ]
