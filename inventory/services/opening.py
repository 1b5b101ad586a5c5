"""Opening the books: the shelf as a file tells it, items and suppliers made on the way."""

from django.db import IntegrityError, transaction

from inventory import opening_csv
from inventory.models import Entry, Item, Supplier
from inventory.services import catalog, receiving
from inventory.services.posting import LedgerError

FACTS = ("density_g_per_ml", "ml_per_drop", "color", "minimum", "target")


def known_items() -> dict[tuple[str, str], opening_csv.Known]:
    """What the shelf already has, as the reader wants it."""
    return {
        (item.kind, item.name.casefold()): opening_csv.Known(
            stock_unit=item.stock_unit,
            density_g_per_ml=item.density_g_per_ml,
            ml_per_drop=item.ml_per_drop,
            g_per_tsp=item.g_per_tsp,
            color=item.color,
            minimum=item.minimum,
            target=item.target,
            archived=item.archived,
        )
        for item in Item.objects.filter(kind__in=Item.BOUGHT)
    }


def load(*, key: str, text: str, by) -> Entry | None:
    """Makes what is new and posts one opening entry for all lots: all of the file or nothing.

    None when the file lists items but no stock. The same key with the same file posts once. Raises
    FileError and LedgerError."""
    try:
        return _load(key, text, by)
    except IntegrityError:
        # Two presses at once: the other one made the items first. They are there now.
        return _load(key, text, by)


@transaction.atomic
def _load(key: str, text: str, by) -> Entry | None:
    reading = opening_csv.read(text, known_items())
    if reading.troubles:
        raise LedgerError("The shelf changed meanwhile and the file no longer fits. Load it again.")
    items = {
        (item.kind, item.name.casefold()): item
        for item in Item.objects.filter(kind__in=Item.BOUGHT)
    }
    suppliers = {supplier.name.casefold(): supplier for supplier in Supplier.objects.all()}
    arrivals, places = [], {}
    for row in reading.rows:
        if row.place not in places:
            places[row.place] = catalog.place_named(row.place)
        place = places[row.place]
        if row.key not in items:
            items[row.key] = _new_item(row, place)
        supplier = suppliers.get(row.supplier.casefold())
        if row.supplier and not supplier:
            supplier = Supplier.objects.create(name=row.supplier)
            suppliers[row.supplier.casefold()] = supplier
        if row.quantity:
            arrivals.append(_arrival(row, items[row.key], supplier, place))
    if not arrivals:
        return None
    return receiving.open_shelf(key=key, arrivals=arrivals, by=by)


def _new_item(row: opening_csv.Row, place) -> Item:
    facts = {name: getattr(row, name) for name in FACTS if getattr(row, name)}
    return catalog.add_item(
        kind=row.kind, name=row.item, stock_unit=row.stock_unit, place=place, **facts
    )


def _arrival(row: opening_csv.Row, item: Item, supplier, place) -> receiving.Arrival:
    return receiving.Arrival(
        item=item,
        quantity=row.quantity,
        cost=row.cost,
        supplier=supplier,
        supplier_lot=row.supplier_lot,
        expires_on=row.expires_on,
        place=place,
        said=row.said[:60],
    )
