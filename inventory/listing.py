"""What the shelf's pages list: each function is a fixed number of queries, however long the shelf."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce, TruncDate
from django.utils import timezone

from inventory import queries, stock_chart, stock_state
from inventory.models import Entry, Item, Lot, Movement, Pack, Place

#: So many days an item's chart looks back.
CHART_DAYS = 365


@dataclass(frozen=True)
class Row:
    """One line of the shelf: an item, or what lies of it at one place."""

    item: Item
    on_hand: int
    reserved: int
    #: What it stands under: a kind or a place.
    group: str


@dataclass(frozen=True)
class Choice:
    """One value that a filter can take, and how many items it leaves with the other filters as set."""

    value: str
    label: str
    count: int


def shelf_items(
    *, text: str = "", kind: str = "", place: Place | None = None, state: str = "", archived=False
) -> QuerySet[Item]:
    """Items for the shelf page, with the columns of `stock_state.items`, by kind and name.

    Bought kinds are always listed, what the bench made only while there is some. `text` is sought in
    names, notes, lot numbers and supplier lots; at a `place` only what lies there is listed."""
    items = stock_state.items(Item.objects.filter(archived=archived))
    items = items.filter(Q(kind__in=Item.BOUGHT) | Q(total__gt=0) | Q(is_to_count=True))
    if place:
        here = Lot.objects.in_stock().filter(place=place, item=OuterRef("pk"))
        items = items.filter(Exists(here))
    if kind:
        items = items.filter(kind=kind)
    if text:
        lots = Lot.objects.filter(Q(number__icontains=text) | Q(supplier_lot__icontains=text))
        named = Exists(lots.filter(item=OuterRef("pk")))
        items = items.filter(Q(name__icontains=text) | Q(notes__icontains=text) | named)
    if state:
        items = stock_state.narrowed(items, state)
    return items.select_related("place").order_by("kind", "name")


def kind_rows(items: QuerySet[Item], place: Place | None = None) -> QuerySet[Item]:
    """The items with `on_hand` and `reserved`: of all lots, or of those that lie at a place."""
    lots = Lot.objects.in_stock().filter(item=OuterRef("pk")).order_by().values("item")
    if place:
        lots = lots.filter(place=place)

    def summed(column: str) -> Coalesce:
        return Coalesce(Subquery(lots.annotate(sum=Sum(column)).values("sum")), 0)

    return items.annotate(on_hand=summed("on_hand"), reserved=summed("reserved"))


def place_rows(items: QuerySet[Item], place: Place | None = None) -> QuerySet:
    """What lies where: a row of values for each item at each place, what lies nowhere last."""
    lots = Lot.objects.in_stock().filter(item__in=items.values("pk"))
    if place:
        lots = lots.filter(place=place)
    rows = lots.values("item", "place__name")
    return rows.annotate(on_hand=Sum("on_hand"), reserved=Sum("reserved")).order_by(
        F("place__name").asc(nulls_last=True), "item__kind", "item__name"
    )


def rows_by_kind(page: Iterable[Item]) -> list[Row]:
    return [Row(i, i.on_hand, i.reserved, i.get_kind_display()) for i in page]


def rows_by_place(page: Iterable[dict]) -> list[Row]:
    """One query more, for the items of the page."""
    found = list(page)
    items = stock_state.items(Item.objects.all()).in_bulk({row["item"] for row in found})
    return [
        Row(items[r["item"]], r["on_hand"], r["reserved"], r["place__name"] or "no place")
        for r in found
    ]


def kind_choices(items: QuerySet[Item], *, keep: str = "") -> list[Choice]:
    """The kinds of these items, in the order of the list; `keep` stays though none is of it."""
    counts = dict(_plain(items).values_list("kind").annotate(Count("pk")))
    kinds = [(kind, label) for kind, label in Item.Kind.choices if kind in counts or kind == keep]
    return [Choice(kind, label, counts.get(kind, 0)) for kind, label in kinds]


def place_choices(items: QuerySet[Item], *, keep: Place | None = None) -> list[Choice]:
    """The places where some of these items lie; `keep` stays though none does there."""
    here = Q(lot__on_hand__gt=0, lot__item__in=_ids(items))
    places = Place.objects.annotate(items_here=Count("lot__item", distinct=True, filter=here))
    listed = places.filter(Q(items_here__gt=0) | Q(pk=keep.pk if keep else None)).order_by("name")
    return [Choice(str(place.pk), place.name, place.items_here) for place in listed]


def state_counts(items: QuerySet[Item]) -> dict[str, int]:
    """How many of these items are in each state, and "all" of them."""
    states = {state: Count("pk", filter=Q(**{f"is_{state}": True})) for state in stock_state.STATES}
    return items.order_by().aggregate(all=Count("pk"), **states)


def money_in(items: QuerySet[Item]) -> tuple[int | None, int]:
    """What the stock of these items cost, in millionths (None: nothing known), and how many lots of
    it have a cost that nobody knows."""
    lots = Lot.objects.in_stock().filter(item__in=_ids(items))
    sums = lots.aggregate(known=Sum("cost"), unknown=Count("pk", filter=Q(cost=None)))
    return sums["known"], sums["unknown"]


def lots_of(item: Item, *, used_up: bool = False) -> QuerySet[Lot]:
    """The item's lots in the order they are drawn; those that are used up only when asked for."""
    lots = queries.with_trust(item.lots.select_related("place"))
    if not used_up:
        lots = lots.filter(Q(on_hand__gt=0) | Q(count_me=True))
    return lots.first_expiring_first()


def chart_of(item: Item) -> stock_chart.Series:
    """The last year of an item with its `on_hand`, by when things happened: one query, a row a day.

    Only what still stands: a mistake that was undone never lay on the shelf."""
    today = timezone.localdate()
    first = today - timedelta(days=CHART_DAYS - 1)
    start = timezone.make_aware(datetime.combine(first, time.min))
    # A move takes nothing in and nothing away: its two lines come to nothing.
    lines = Movement.objects.filter(
        queries.STANDING_LINE, lot__item=item, entry__happened_at__gte=start
    ).exclude(entry__kind=Entry.Kind.MOVE)
    days = (
        lines.annotate(on=TruncDate("entry__happened_at"))
        .values("on")
        .order_by()
        .annotate(
            change=Sum("quantity"),
            came_in=Coalesce(Sum("quantity", filter=Q(role=Movement.Role.MADE)), 0),
            taken=Coalesce(-Sum("quantity", filter=Q(role=Movement.Role.DRAWN)), 0),
            counts=Count("entry", distinct=True, filter=Q(entry__kind=Entry.Kind.COUNT)),
        )
    )
    return stock_chart.series(
        item.on_hand, [stock_chart.Day(**day) for day in days], first=first, last=today
    )


def movements(**of: object) -> QuerySet[Movement]:
    """Movements newest first, with what a row shows: `movements(lot=…)`, `movements(lot__item=…)`."""
    rows = Movement.objects.filter(**of).select_related(
        "entry__by", "entry__reverses", "entry__reversed_by", "entry__amended_by", "lot__item"
    )
    return rows.order_by("-id")


def packs_of(items: list[Item]) -> dict[int, list[Pack]]:
    """The packs of each item: item id → packs, one query."""
    found: dict[int, list[Pack]] = {}
    for pack in Pack.objects.filter(item__in=items).select_related("supplier"):
        found.setdefault(pack.item_id, []).append(pack)
    return found


def _plain(items: QuerySet[Item]) -> QuerySet[Item]:
    """The same items without their columns, to be counted by something."""
    return Item.objects.filter(pk__in=_ids(items)).order_by()


def _ids(items: QuerySet[Item]) -> QuerySet:
    return items.order_by().values("pk")
