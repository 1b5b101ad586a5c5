"""A day at a stall: opened with cash for change, closed with the cash that was counted."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import Place
from inventory.services.posting import retried
from shop.models import PriceList, StallDay


class StallError(Exception):
    """A stall day can't be opened or closed so; the text says why."""


@retried
@transaction.atomic
def start(*, place: Place | None, new_place: str = "", **facts) -> StallDay:
    """`open_day` at a stall that is known, or at a new one of that name."""
    return open_day(
        place=place or Place.objects.create(name=new_place, kind=Place.Kind.STALL), **facts
    )


@retried
@transaction.atomic
def open_day(
    *,
    place: Place,
    float_minor: int = 0,
    price_list: PriceList | None = None,
    opened_at: datetime | None = None,
    by,
) -> StallDay:
    """A new day, of the day on which it is opened; raises StallError while another one is open at this place."""
    place = Place.objects.select_for_update().get(pk=place.pk)
    if place.kind != Place.Kind.STALL:
        raise StallError(f"{place} is no stall. Choose a place of the kind stall.")
    if earlier := StallDay.objects.filter(place=place, closed_at=None).first():
        raise StallError(
            f"The day of {earlier.business_date} at {place} is still open. Close that one first."
        )
    opened_at = opened_at or timezone.now()
    return StallDay.objects.create(
        place=place,
        business_date=timezone.localdate(opened_at),
        opened_at=opened_at,
        float_minor=float_minor,
        price_list=price_list,
        by=by,
    )


@retried
@transaction.atomic
def close_day(
    day: StallDay, *, counted_minor: int, note: str = "", closed_at: datetime | None = None
) -> StallDay:
    """Closes a day with the cash that was counted; raises StallError when it is closed already."""
    day = StallDay.objects.select_for_update().get(pk=day.pk)
    if day.closed_at:
        raise StallError("This day is closed already. Open it again to change what was counted.")
    day.closed_at = closed_at or timezone.now()
    day.counted_minor, day.note = counted_minor, note
    day.save(update_fields=["closed_at", "counted_minor", "note"])
    return day


@retried
@transaction.atomic
def open_again(day: StallDay) -> StallDay:
    """Takes the closing back, so that something can be put right; raises StallError while another day
    is open there."""
    day = StallDay.objects.select_for_update().get(pk=day.pk)
    other = StallDay.objects.filter(place=day.place_id, closed_at=None).exclude(pk=day.pk).first()
    if other:
        raise StallError(f"The day of {other.business_date} is open there now. Close it first.")
    day.closed_at = day.counted_minor = None
    day.save(update_fields=["closed_at", "counted_minor"])
    return day
