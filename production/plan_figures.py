"""What a plan comes to against pouring every color fresh.

Volumes are mL of base, money is in the currency of the prices.
"""

from collections.abc import Mapping, Sequence

from production.evening_terms import Layer


def fresh_cost(
    layers: Sequence[Layer],
    *,
    prices: Mapping[str, float],
    wash_cost: float,
    clean_cups: int,
    cold_cost: float,
) -> float:
    """What the same evening costs with nothing reused: the planner's own cost without any source."""
    plastic = sum(
        (layer.shots_ml + layer.heel_ml)
        * (prices[layer.grade] + sum(dose * prices[key] for key, dose in layer.doses.items()))
        for layer in layers
    )
    washes = max(0, len(layers) - clean_cups)
    return plastic + wash_cost * washes + cold_cost * len(layers)
