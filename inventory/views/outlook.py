"""What lies ahead of one item: its last year, its reorder point, and how it runs down."""

from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory import buying_list, buying_words, listing, outlook, stock_chart, units
from inventory.models import Item
from inventory.outlook import Outlook

#: So many days ahead the picture reaches at least, and at most.
LEAST_DAYS, MOST_DAYS = 28, 180


@require_safe
def item_outlook(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=Item.BOUGHT).with_on_hand(), pk=pk)
    today = timezone.localdate()
    ahead = buying_list.look_ahead(today, only=item)[0]
    seen = ahead.outlook
    points = outlook.run_down(seen, today, _until(seen, today))
    series = listing.chart_of(item)
    days = [stock_chart.Expected(p.on, _m(p.expected), _m(p.low), _m(p.high)) for p in points]
    lead = f"supplier takes {buying_words.days(seen.lead.days)}"
    wanted = [(need.what, need.quantity / units.MICRO) for need in ahead.needs]
    context = {
        "item": item,
        "ahead": ahead,
        "seen": seen,
        "series": series,
        "chart": stock_chart.draw(
            series, minimum=item.minimum, point=_m(seen.point or 0), ahead=days
        ),
        "last": points[-1],
        "today": today,
        "point": _m(seen.point) if seen.point is not None else None,
        "level": _m(seen.level),
        "expected": days[-1],
        "buy": _m(seen.buy) if seen.buy > outlook.LEAST else 0,
        "safety": _m(seen.computed - seen.rate * seen.lead.days) if seen.learned else None,
        "use": buying_words.use(seen, ahead.said) if seen.learned else "",
        "history": buying_words.history(seen),
        "why": buying_words.why(seen, ahead.said, needs=wanted, took=lead),
        "if_not": buying_words.if_not(seen, today),
        "wait": buying_words.could_wait(seen, today) if not seen.buy else "",
        "band": round(outlook.BAND * 100),
    }
    return render(request, "inventory/outlook.html", context)


def _until(seen: Outlook, today: date) -> date:
    """To the last delivery on its way, or one ordered today, within bounds."""
    arrives = [today + timedelta(days=round(seen.lead.days))]
    arrives += [when for when, _ in seen.stock.deliveries]
    days = (max(arrives) - today).days
    return today + timedelta(days=min(max(days, LEAST_DAYS), MOST_DAYS))


def _m(quantity: float) -> int:
    return units.to_micro(f"{quantity:.6f}")
