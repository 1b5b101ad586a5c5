"""Dividing whole millionths so that nothing is lost: the parts always sum to the total."""

from collections.abc import Sequence


def portion(total: int, part: int, whole: int) -> int:
    """`total` × `part` ÷ `whole` as an integer, rounded half-even (rule 1 of the ledger).

    Raises ZeroDivisionError when `whole` is 0."""
    quotient, remainder = divmod(total * part, whole)
    twice = 2 * abs(remainder)
    if twice > abs(whole) or (twice == abs(whole) and quotient % 2):
        quotient += 1
    return quotient


def split(total: int, weights: Sequence[int]) -> list[int]:
    """Parts of `total` in proportion to `weights` (none negative), by largest remainder.

    The parts sum to `total` exactly; ties go to the earlier part. When every weight is 0 the first
    part takes it all. Raises ValueError for a negative weight or no weights."""
    if not weights or min(weights) < 0:
        raise ValueError("Weights must be given and not negative.")
    whole = sum(weights)
    if whole == 0:
        return [total] + [0] * (len(weights) - 1)
    sign, size = (-1, -total) if total < 0 else (1, total)
    parts = [size * weight // whole for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: (-(size * weights[i] % whole), i))
    for index in by_remainder[: size - sum(parts)]:
        parts[index] += 1
    return [sign * part for part in parts]
