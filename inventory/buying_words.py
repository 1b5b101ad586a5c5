"""Why the list says what it says, in one sentence each.

Quantities come in stock units; `said` puts one into words with its unit."""

from collections.abc import Callable, Iterable
from datetime import date, timedelta

from inventory.outlook import Outlook, due_in, out_on

Said = Callable[[float], str]


def day(on: date, today: date) -> str:
    """ "12 December", with the year where it is another one."""
    text = f"{on.day} {on:%B}"
    return text if on.year == today.year else f"{text} {on.year}"


def weeks(number: float) -> str:
    return "1 week" if number == 1 else f"{number:g} weeks"


def days(number: float) -> str:
    return "1 day" if number == 1 else f"{number:g} days"


def use(outlook: Outlook, said: Said) -> str:
    """ "31 mL/week ± 12"."""
    mean, spread = outlook.weekly
    return f"{said(mean)}/week ± {said(spread).split()[0]}"


def why(outlook: Outlook, said: Said, *, needs: Iterable[tuple[str, float]], took: str) -> str:
    """Why so much is bought. `needs`: (what needs it, how much); `took`: "supplier takes 9 days"."""
    parts = []
    if outlook.learned and outlook.rate:
        rate = use(outlook, said)
        parts.append(rate if outlook.level_by_owner else f"{weeks(outlook.weeks)} of use at {rate}")
        parts.append(took)
    else:
        parts.append(history(outlook))
    parts += [f"{what} need {said(quantity)}" for what, quantity in needs]
    if outlook.stock.on_order:
        parts.append(f"{said(outlook.stock.on_order)} on order")
    if outlook.by_owner:
        parts.append(f"your minimum is {said(outlook.stock.minimum)}")
    if outlook.level_by_owner and outlook.level == outlook.stock.target:
        parts.append(f"up to your target of {said(outlook.stock.target)}")
    text = ", ".join(parts)
    return text[:1].upper() + text[1:]


def history(outlook: Outlook) -> str:
    """What the history lacks, where it gives no level of its own."""
    seen = outlook.history
    if outlook.learned:
        return "no use in the last year" if not seen.demands else use(outlook, lambda x: f"{x:.3g}")
    if not seen.periods:
        return "no history yet"
    times = "never used" if not seen.demands else f"used on {days(seen.demands)}"
    return f"little history: {times} in {days(seen.periods)}"


def if_not(outlook: Outlook, today: date) -> str:
    """What happens without buying: "out about 12 December"."""
    out = out_on(outlook, today)
    if out is None:
        if outlook.learned:
            return "Lasts two years at this use."
        return "Nobody can say when it runs out."
    if out <= today:
        return "Out now." if outlook.stock.on_hand <= 0 else "Open work takes all of it."
    return f"Out about {day(out, today)}."


def too_late(outlook: Outlook, lead_days: int, today: date) -> str:
    """A warning where it runs out before goods ordered today can be here; else ""."""
    out = out_on(outlook, today)
    arrives = today + timedelta(days=lead_days)
    if out is None or out >= arrives:
        return ""
    return f"Ordered today it comes about {day(arrives, today)}: too late."


def could_wait(outlook: Outlook, today: date) -> str:
    """When something that is not low yet will be."""
    left = due_in(outlook)
    if left is None:
        return ""
    return f"Could wait until {day(today + timedelta(days=left), today)}"
