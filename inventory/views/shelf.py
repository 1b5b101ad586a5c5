"""The shelf, and the page of a lot."""

from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from inventory import emptied, forms_stock, lineage, listing, queries, stock_state
from inventory.listing import Choice, Row
from inventory.models import Item, Lot, Place
from inventory.services import moving
from inventory.views import paging

#: Of a lot's family, named on its own page.
NEAREST = 15
#: Longer than any row's number.
MOST_DIGITS = 19
#: Ways to group the shelf.
GROUPS = {"kind": "by kind", "place": "by place"}
#: What the shelf can be narrowed to, and how the page says it.
SHOW = {
    stock_state.LOW: "low",
    stock_state.EXPIRING: "expiring",
    stock_state.DOUBTFUL: "doubtful",
    stock_state.DEAD: "dead",
}
ARCHIVED = "archived"


@dataclass(frozen=True)
class Asked:
    """What the shelf was asked for; what makes no sense is left out."""

    text: str
    kind: str
    place: Place | None
    show: str
    by: str

    @classmethod
    def of(cls, query: QueryDict) -> "Asked":
        kind, show, by = (query.get(name, "") for name in ("kind", "show", "by"))
        place = query.get("place", "")
        known = place.isdecimal() and len(place) < MOST_DIGITS
        return cls(
            text=query.get("q", "").replace("\0", "").strip()[:80],
            kind=kind if kind in Item.Kind.values else "",
            place=Place.objects.filter(pk=place).first() if known else None,
            show=show if show in SHOW or show == ARCHIVED else "",
            by=by if by in GROUPS else "kind",
        )

    @property
    def place_value(self) -> str:
        return str(self.place.pk) if self.place else ""

    @property
    def narrowed(self) -> bool:
        return bool(self.text or self.kind or self.place or self.show)

    def items(self, **other: Any) -> QuerySet[Item]:
        """The items asked for; with `other`, as if that one filter were set differently."""
        asked = {
            "text": self.text,
            "kind": self.kind,
            "place": self.place,
            "state": self.show if self.show in SHOW else "",
            "archived": self.show == ARCHIVED,
        }
        return listing.shelf_items(**(asked | other))


@require_http_methods(["GET", "HEAD"])
def shelf(request: HttpRequest) -> HttpResponse:
    asked = Asked.of(request.GET)
    found = asked.items()
    if asked.by == "place":
        page = paging.page(request, listing.place_rows(found, asked.place))
        rows = listing.rows_by_place(page)
    else:
        page = paging.page(request, listing.kind_rows(found, asked.place))
        rows = listing.rows_by_kind(page)
    counts = listing.state_counts(asked.items(state="", archived=False))
    kinds = listing.kind_choices(asked.items(kind=""), keep=asked.kind)
    places = listing.place_choices(asked.items(place=None), keep=asked.place)
    context = {
        "asked": asked,
        "page_obj": page,
        "groups": _grouped(rows, kinds if asked.by == "kind" else places),
        "query": paging.query(request, "q", "kind", "place", "show", "by"),
        "states": [(state, label, counts[state]) for state, label in SHOW.items()],
        "all": counts["all"],
        "state_query": paging.query(request, "q", "kind", "place", "by"),
        "kinds": kinds,
        "places": places,
        "ways": GROUPS.items(),
        "way_query": paging.query(request, "q", "kind", "place", "show"),
        "expiring_days": stock_state.EXPIRING_DAYS,
        "dead_days": stock_state.DEAD_DAYS,
    }
    if request.user.is_owner:
        context["money"], context["unknown_cost"] = listing.money_in(found)
    template = "inventory/_shelf_items.html" if request.htmx else "inventory/shelf.html"
    return render(request, template, context)


@require_http_methods(["GET", "HEAD"])
def lot(request: HttpRequest, pk: int) -> HttpResponse:
    lot = _lot(pk)
    # What is left holds a share of all that went in; a lot that is used up shows all of it.
    shown = lot.on_hand or lot.made
    mix = queries.contents_of(lot, shown) if queries.composition(lot) else {}
    if set(mix) == {lot.item_id}:
        mix = {}  # moved as it came: it holds itself
    items = Item.objects.in_bulk(mix)
    back, forward = lineage.trace_back(lot), lineage.trace_forward(lot)
    departures = queries.departures_of([lot.pk, *(later.pk for later in forward)])
    departures = list(departures[: NEAREST + 1])
    context = {
        "lot": lot,
        "measure": forms_stock.measure(lot),
        "late": queries.late_entry(lot) if lot.count_me else None,
        "told": emptied.told(lot),
        "composition": [(items[item], quantity) for item, quantity in mix.items()],
        "hold": lot.holds.select_related("by").first() if lot.held else None,
        "back": back[:NEAREST],
        "back_more": max(0, len(back) - NEAREST),
        "forward": forward[:NEAREST],
        "forward_more": max(0, len(forward) - NEAREST),
        "departures": departures[:NEAREST],
        "more_departures": len(departures) > NEAREST,
        "may_move": moving.may_move(lot.item),
        "page_obj": paging.page(request, listing.movements(lot=lot)),
    }
    return render(request, "inventory/lot.html", context)


def _grouped(rows: list[Row], choices: list[Choice]) -> list[tuple[str, int | None, list[Row]]]:
    """The rows under their headings, with how many there are of each on all pages together."""
    counts = {choice.label: choice.count for choice in choices}
    groups = groupby(rows, key=lambda row: row.group)
    return [(label, counts.get(label), list(under)) for label, under in groups]


def _lot(pk: int) -> Lot:
    lots = queries.with_trust(Lot.objects.select_related("item", "place", "supplier"))
    return get_object_or_404(lots, pk=pk)
