"""What open orders still need, for the bench's plan of an evening."""

from production.wants import Want
from shop import queries


def of_orders() -> list[Want]:
    """Each product that open orders are short of, with the orders that need it: five queries."""
    orders = list(queries.open_orders())
    states = queries.line_states(orders)
    bags: dict[int, int] = {}
    ready: dict[int, int] = {}
    whose: dict[int, list[str]] = {}
    for order in orders:
        for state in states[order.pk]:
            pk = state.line.product_id
            taken = min(state.bagged, state.line.remaining)
            ready[pk] = ready.get(pk, 0) + taken
            if state.unbagged:
                bags[pk] = bags.get(pk, 0) + state.unbagged
                whose.setdefault(pk, []).append(f"{state.unbagged} for {order.customer}")
    return [
        Want(pk, bags.get(pk, 0), taken, ", ".join(whose.get(pk, [])))
        for pk, taken in ready.items()
    ]
