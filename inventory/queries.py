"""What pages and services read across the shelf's tables."""

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db.models import BooleanField, Case, F, OuterRef, Q, QuerySet, Subquery, Sum, When
from django.db.models.functions import Coalesce

from inventory import allocation
from inventory.models import Content, Entry, Item, Lot, Movement

Role = Movement.Role

#: Lines of entries that are neither undone nor an undo. By kind, not by "reverses is empty": that has
#: an index under which SQLite would walk all entries for each lot.
STANDING_LINE = Q(entry__reversed_by=None) & ~Q(entry__kind=Entry.Kind.REVERSAL)


def composition(lot: Lot) -> dict[int, int]:
    """All that ever went into the lot: item id → millionths. Empty for goods from outside."""
    return compositions([lot.pk]).get(lot.pk, {})


def compositions(lots: Collection[int]) -> dict[int, dict[int, int]]:
    """The composition of each lot of these ids that has one: lot → item → millionths. One query."""
    found: dict[int, dict[int, int]] = {}
    rows = Content.objects.filter(lot__in=lots).order_by("lot_id", "item_id")
    for lot, item, total in rows.values_list("lot_id", "item_id").annotate(total=Sum("quantity")):
        if total:
            found.setdefault(lot, {})[item] = total
    return found


def contents_of(lot: Lot, quantity: int) -> dict[int, int]:
    """What `quantity` millionths of the lot hold, by item: its share of the composition, or itself."""
    return share_of(lot, composition(lot), quantity)


def share_of(lot: Lot, composition: dict[int, int], quantity: int) -> dict[int, int]:
    """What `contents_of` says, of a composition at hand: no query."""
    if not composition or lot.made <= 0:
        return {lot.item_id: quantity}
    return {i: allocation.portion(total, quantity, lot.made) for i, total in composition.items()}


def thinning_oils() -> set[int]:
    """Ids of the items that thinned a colorant."""
    inside = Content.objects.filter(lot__item__kind=Item.Kind.COLORANT)
    return set(inside.exclude(item__kind=Item.Kind.COLORANT).values_list("item", flat=True))


def on_hand_at(lot: Lot, when: datetime) -> int:
    """Millionths on hand as of a moment, by when things happened."""
    return on_hand_then([lot], when)[lot.pk]


def with_trust(lots: QuerySet[Lot]) -> QuerySet[Lot]:
    """Adds how far the books of each lot can be trusted; no further query, however many lots.

    `last_counted_at`: when it was last counted (null: never). `last_estimated_at`: when an amount
    marked ≈ last moved. `doubtful`: that was after the last count. Undone entries don't count."""
    lines = Movement.objects.filter(STANDING_LINE, lot=OuterRef("pk"))
    lines = lines.order_by("-entry__happened_at")
    times = lines.values("entry__happened_at")
    since = Q(last_counted_at=None) | Q(last_estimated_at__gt=F("last_counted_at"))
    return lots.annotate(
        last_counted_at=Subquery(times.filter(entry__kind=Entry.Kind.COUNT)[:1]),
        last_estimated_at=Subquery(times.filter(estimated=True)[:1]),
        doubtful=Case(
            When(Q(last_estimated_at__isnull=False) & since, then=True),
            default=False,
            output_field=BooleanField(),
        ),
    )


def on_hand_then(lots: Iterable[Lot], when: datetime) -> dict[int, int]:
    """Lot id → millionths on hand as of a moment, by when things happened; one query."""
    lots = list(lots)
    later = Movement.objects.filter(lot__in=lots, entry__happened_at__gt=when).order_by()
    moved = dict(later.values_list("lot").annotate(total=Sum("quantity")))
    return {lot.pk: lot.on_hand - moved.get(lot.pk, 0) for lot in lots}


def late_entry(lot: Lot) -> tuple[Entry, Entry] | None:
    """The newest entry that was posted after a count of the lot and happened before it, with that
    count: a reason to count again."""
    counts = standing().filter(kind=Entry.Kind.COUNT, movements__lot=lot)
    last = counts.order_by("-happened_at", "-id").first()
    if last is None:
        return None
    late = standing().filter(movements__lot=lot, id__gt=last.pk, happened_at__lt=last.happened_at)
    entry = late.order_by("-id").first()
    return (entry, last) if entry else None


def pick(item: Item, quantity: int) -> list[tuple[Lot, int]]:
    """The lots at home to draw from, first expiring first; the last one named takes what is short.
    Lots on hold are passed over while there are others.

    Empty when the item never had a lot there."""
    stocked = item.lots.in_stock().at_home().select_related("item").first_expiring_first()
    if picked := pick_from(stocked, quantity):
        return picked
    newest_first = (
        item.lots.at_home().select_related("item").order_by("held", "-received_on", "-id")
    )
    last = newest_first.first()
    return [(last, quantity)] if last else []


def pick_from(stocked: Iterable[Lot], quantity: int) -> list[tuple[Lot, int]]:
    """What `pick` says, of lots in stock that come in the order of use: no query."""
    picked: list[tuple[Lot, int]] = []
    left = quantity
    for lot in stocked:
        if lot.held:
            continue
        take = min(left, lot.available)
        if take > 0:
            picked.append((lot, take))
            left -= take
        if not left:
            return picked
    if picked:
        lot, take = picked[-1]
        return [*picked[:-1], (lot, take + left)]
    return []


def users_of(entry: Entry) -> list[Entry]:
    """Standing entries that drew, after it, from what this entry made, or added to the batch that it
    mixed, or by which something came back that it had sent: newest first.

    An amended entry stands where its first version stood."""
    first = entry
    while first.amends_id:
        first = first.amends
    gains = Q(role__in=[Role.MADE, Role.RETURNED]) | Q(role=Role.COUNTED, quantity__gt=0)
    made = entry.movements.filter(gains).values("lot")
    uses = Q(movements__role=Role.DRAWN)
    if entry.kind == Entry.Kind.BATCH:
        uses |= Q(movements__role=Role.MADE, kind=Entry.Kind.ADDITION)
    return returns_of(entry) + list(
        standing()
        .filter(uses, id__gt=first.pk, movements__lot__in=made)
        .exclude(pk=entry.pk)
        .distinct()
        .order_by("-id")
    )


def returns_of(entry: Entry) -> list[Entry]:
    """Standing entries by which something came back of what this one sent, newest first."""
    back = standing().filter(movements__returns__entry=entry)
    return list(back.distinct().order_by("-id"))


def standing():
    """Entries that are neither undone nor an undo, and no mere corrections of value."""
    found = Entry.objects.filter(reversed_by=None)
    return found.exclude(kind__in=[Entry.Kind.REVERSAL, Entry.Kind.REVALUATION])


#: How goods leave for good: to someone else, or used up here.
LEAVING = [Entry.Kind.SHIPMENT, Entry.Kind.SALE, Entry.Kind.GIFT, Entry.Kind.OWN_USE]


def departures_of(lots: Iterable[int]) -> QuerySet[Entry]:
    """Standing shipments, sales and gifts that drew from these lots, newest first: where they went."""
    found = standing().filter(kind__in=LEAVING, movements__lot__in=lots)
    return found.distinct().order_by("-happened_at", "-id")


def low_items():
    """Bought items at or under their minimum, with `on_hand` (millionths)."""
    here = Lot.objects.in_stock().filter(item=OuterRef("pk")).order_by().values("item")
    on_hand = Coalesce(Subquery(here.annotate(total=Sum("on_hand")).values("total")), 0)
    items = Item.objects.current().filter(minimum__gt=0, kind__in=Item.BOUGHT)
    return items.annotate(on_hand=on_hand).filter(on_hand__lte=F("minimum"))
