"""What the shelf's pages list: each function is a fixed number of queries, however long the shelf."""

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from inventory.models import Item, Lot, Movement, Pack, Place


def shelf_items(
    *, text: str = "", kind: str = "", place: Place | None = None, show: str = ""
) -> QuerySet[Item]:
    """Items for the shelf page, with `on_hand`, `reserved` and `to_count`.

    Bought kinds are always listed, what the bench made only while there is some. `text` is sought in
    names, lot numbers and supplier lots. `show`: "low", "count" or "archived". At a place, on hand is what lies
    there."""
    items = Item.objects.filter(archived=show == "archived").select_related("place")
    if place:
        items = items.filter(lots__place=place, lots__on_hand__gt=0)
    items = items.annotate(
        on_hand=Coalesce(Sum("lots__on_hand"), 0),
        reserved=Coalesce(Sum("lots__reserved"), 0),
        to_count=Exists(Lot.objects.filter(item=OuterRef("pk"), count_me=True)),
    ).filter(Q(kind__in=Item.BOUGHT) | Q(on_hand__gt=0) | Q(to_count=True))
    if kind:
        items = items.filter(kind=kind)
    if text:
        lots = Lot.objects.filter(Q(number__icontains=text) | Q(supplier_lot__icontains=text))
        named = Exists(lots.filter(item=OuterRef("pk")))
        items = items.filter(Q(name__icontains=text) | Q(notes__icontains=text) | named)
    if show == "low":
        items = items.filter(kind__in=Item.BOUGHT, minimum__gt=0, on_hand__lte=F("minimum"))
    elif show == "count":
        items = items.filter(to_count=True)
    return items.order_by("kind", "name")


def lots_of(item: Item, *, used_up: bool = False) -> QuerySet[Lot]:
    """The item's lots in the order they are drawn; those that are used up only when asked for."""
    lots = item.lots.select_related("place")
    if not used_up:
        lots = lots.filter(Q(on_hand__gt=0) | Q(count_me=True))
    return lots.first_expiring_first()


def lots_to_count() -> int:
    return Lot.objects.filter(count_me=True).count()


def movements(**of: object) -> QuerySet[Movement]:
    """Movements newest first, with what a row shows: `movements(lot=…)`, `movements(lot__item=…)`."""
    rows = Movement.objects.filter(**of).select_related("entry__by", "entry__reverses", "lot__item")
    return rows.order_by("-id")


def packs_of(items: list[Item]) -> dict[int, list[Pack]]:
    """The packs of each item: item id → packs, one query."""
    found: dict[int, list[Pack]] = {}
    for pack in Pack.objects.filter(item__in=items).select_related("supplier"):
        found.setdefault(pack.item_id, []).append(pack)
    return found


def places_in_use() -> QuerySet[Place]:
    stocked = Count("lot", filter=Q(lot__on_hand__gt=0))
    return Place.objects.annotate(lots_here=stocked).filter(lots_here__gt=0).order_by("name")
