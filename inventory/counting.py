"""What a count of the shelf is about: which lots first, the packs they came in, what the books say."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, F, Q, QuerySet
from django.db.models.functions import Coalesce, TruncDate
from django.utils import timezone

from inventory import listing, queries, sighting, units
from inventory.models import Lot, Movement, Place


@dataclass
class Subject:
    """A lot to be counted. `likely`: the key of the pack it most likely came in, or empty."""

    lot: Lot
    packs: Sequence[sighting.Pack]
    likely: str
    books: int


#: Lots worth a look: in stock, or said to be used up while more of it was used.
COUNTABLE = Q(on_hand__gt=0) | Q(count_me=True)


def to_count(lots: QuerySet[Lot], *, every: bool = False) -> QuerySet[Lot]:
    """Countable lots, or every one: those that ask for it first, then the doubtful ones, then those
    that nobody counted for the longest."""
    trusted = queries.with_trust(lots if every else lots.filter(COUNTABLE))
    seen = Coalesce(TruncDate("last_counted_at"), F("received_on"))
    return trusted.select_related("item", "place").order_by("-count_me", "-doubtful", seen, "pk")


def places() -> list[tuple[Place | None, int, int]]:
    """Each place with lots to count, how many, and how many of them ask for it; no place is None."""
    here = {place.pk: place for place in Place.objects.all()}
    totals: dict[int | None, list[int]] = {}
    lots = Lot.objects.filter(COUNTABLE)
    for place, asks, number in (
        lots.order_by().values_list("place", "count_me").annotate(n=Count("pk"))
    ):
        total = totals.setdefault(place, [0, 0])
        total[0] += number
        total[1] += number if asks else 0
    named = sorted((pk for pk in totals if pk), key=lambda pk: here[pk].name.casefold())
    return [(here.get(pk), *totals[pk]) for pk in [*named, *([None] if None in totals else [])]]


def subjects(lots: Iterable[Lot], when: datetime | None = None) -> list[Subject]:
    """The lots with all that reading a count needs: three queries, however many."""
    lots = list(lots)
    packs = listing.packs_of(list({lot.item_id for lot in lots}))
    received = _received_words(lots)
    books = queries.on_hand_then(lots, when or timezone.now())
    found = []
    for lot in lots:
        mine = packs.get(lot.item_id, [])
        words = received.get(lot.pk, "")
        # Surest are the words of its receipt, “2 × 4 fl oz bottle”; then what its supplier sells.
        likely = [pack for pack in mine if words.endswith(f"× {pack.name}")]
        likely += [pack for pack in mine if lot.supplier_id and pack.supplier_id == lot.supplier_id]
        sizes = [
            sighting.Pack(str(pack.pk), pack.name, units.from_micro(pack.quantity)) for pack in mine
        ]
        found.append(Subject(lot, sizes, str(likely[0].pk) if likely else "", books[lot.pk]))
    return found


def _received_words(lots: list[Lot]) -> dict[int, str]:
    made = Movement.objects.filter(lot__in=lots, role=Movement.Role.MADE).exclude(said="")
    return dict(made.order_by("-id").values_list("lot", "said"))


def facts(lot: Lot) -> dict:
    """The figures that turn what was seen into stock: a thinned bottle no longer has the item's density."""
    known = lot.item.facts(lot)
    return known if lot.strength == 1 else {**known, "density_g_per_ml": None}
