"""Doses of a recipe scaled from its reference volume of base to another, in whole millionths."""


def scaled(quantity: int, base: int, reference: int) -> int:
    """Return quantity × base ÷ reference, rounded half-even once; all are whole millionths.

    Raises ValueError for a reference that is not more than zero.
    """
    if reference <= 0:
        raise ValueError("The reference volume must be more than zero.")
    whole, rest = divmod(quantity * base, reference)
    if 2 * rest > reference or (2 * rest == reference and whole % 2):
        whole += 1
    return whole
