"""Whether an order and a shelf make sense: each complaint names what it is about."""

import datetime
import math

from production.promise_terms import Order, PromiseError, Shelf

#: More than a workshop of two pours in years; a typing slip, and no number for a solver.
MOST_BAGS = 100_000


def check_order(order: Order, shelf: Shelf) -> None:
    if not isinstance(order.due, datetime.date):
        raise PromiseError(f"an order is due on a day, not on {order.due!r}")
    for number, line in enumerate(order.lines, 1):
        name = f"line {number} ({line.product})"
        if isinstance(line.bags, bool) or not isinstance(line.bags, int) or line.bags < 1:
            raise PromiseError(f"{name} wants {line.bags} bags: bags are whole, at least one")
        if line.bags > MOST_BAGS:
            raise PromiseError(f"{name} wants {line.bags} bags; at most {MOST_BAGS} are reckoned")
        if line.price is not None and not 0 <= line.price < math.inf:
            raise PromiseError(f"{name} cannot earn {line.price} a bag")
        check_product(line.product, shelf)


def check_product(product: str, shelf: Shelf) -> None:
    """Everything that one bag of the product stands on must be on the shelf's lists."""
    if product not in shelf.products:
        raise PromiseError(f"there is no product {product}")
    made = shelf.products[product]
    if not made.contents:
        raise PromiseError(f"{product} has no baits in its bag")
    _figure(product, "price", made.price)
    for (bait, pattern), count in made.contents.items():
        if isinstance(count, bool) or not isinstance(count, int) or count < 1:
            raise PromiseError(f"{product} holds {count} of {bait}: baits are whole, at least one")
        if not any(bait in mold.cavities for mold in shelf.molds.values()):
            raise PromiseError(f"{product} needs {bait}, and no mold makes it")
        _check_pattern(product, pattern, shelf)
    for item, amount in made.packaging.items():
        _known(product, item, shelf)
        _figure(product, item, amount)


def check_shelf(shelf: Shelf) -> None:
    named = {
        "cure_hours": shelf.cure_hours,
        "packing_days": shelf.packing_days,
        "mixing_minutes": shelf.mixing_minutes,
        "heel_ml": shelf.heel_ml,
    }
    for name, figure in named.items():
        _figure("the shelf", name, figure)
    if not shelf.heel_ml < shelf.cup_ml < math.inf:
        raise PromiseError(f"a cup of {shelf.cup_ml} mL holds no more than the heel stays in it")
    for key, item in shelf.items.items():
        _lots(key, item.lots)
        if item.lead_days is not None:
            _figure(key, "lead_days", item.lead_days)
    for product, lots in shelf.bagged.items():
        _lots(product, lots)
    for (bait, pattern), lots in shelf.loose.items():
        _lots(f"{bait} in {pattern}", lots)
    for key, leftover in shelf.leftovers.items():
        _figure(key, "base_ml", leftover.base_ml)
        _figure(key, "melts", leftover.melts)
        for dose_key, dose in leftover.doses.items():
            _figure(key, dose_key, dose)
    for key in shelf.molds:
        _check_mold(key, shelf)
    for evening in shelf.evenings:
        _figure(f"the evening of {evening.on}", "minutes", evening.minutes)
        if evening.on < shelf.today:
            raise PromiseError(f"the evening of {evening.on} is over")
    days = [evening.on for evening in shelf.evenings]
    for day in days:
        if days.count(day) > 1:
            raise PromiseError(f"the evening of {day} is named {days.count(day)} times")


def _check_mold(key: str, shelf: Shelf) -> None:
    mold = shelf.molds[key]
    for name in ("shot_ml", "cycle_minutes"):
        figure = getattr(mold, name)
        if not 0 < figure < math.inf:
            raise PromiseError(f"{key}: {name} must be above 0, not {figure}")
    for name in ("copies", "hand_minutes"):
        _figure(key, name, getattr(mold, name))
    for bait, count in mold.cavities.items():
        if count < 1:
            raise PromiseError(f"{key} has {count} cavities of {bait}")
        good = mold.good.get(bait)
        if good is None or not 0 < good <= 1:
            raise PromiseError(f"{key}: the yield of {bait} lies above 0 and up to 1, not {good}")
    for item, amount in mold.parts.items():
        _known(key, item, shelf)
        _figure(key, item, amount)


def _check_pattern(product: str, pattern: str, shelf: Shelf) -> None:
    if pattern not in shelf.patterns:
        raise PromiseError(f"{product} is of the pattern {pattern}, which is not there")
    shares = shelf.patterns[pattern]
    if not all(share > 0 for share in shares.values()) or abs(sum(shares.values()) - 1) > 1e-6:
        raise PromiseError(f"the layers of {pattern} do not add up to one whole bait")
    for key in shares:
        if key not in shelf.recipes:
            raise PromiseError(f"{pattern} is poured of {key}, and there is no such recipe")
        recipe = shelf.recipes[key]
        if not 0 < recipe.base_share <= 1:
            raise PromiseError(f"{key}: base is {recipe.base_share} of the mix, not up to 1")
        _known(key, recipe.grade, shelf)
        for dose_key, dose in recipe.doses.items():
            _known(key, dose_key, shelf)
            _figure(key, dose_key, dose)
        for dose_key, others in recipe.stand_ins.items():
            for other in others:
                _known(key, other, shelf)
                if other == dose_key or recipe.doses.get(dose_key, 0) <= 0:
                    raise PromiseError(f"{key}: {other} cannot stand in for {dose_key}")


def _known(owner: str, item: str, shelf: Shelf) -> None:
    if item not in shelf.items:
        raise PromiseError(f"{owner} needs {item}, and there is no such item")


def _figure(owner: str, name: str, figure: float) -> None:
    if not 0 <= figure < math.inf:
        raise PromiseError(f"{owner}: {name} cannot be {figure}")


def _lots(owner: str, lots) -> None:
    for lot in lots:
        _figure(owner, "amount", lot.amount)
