"""In which unit each kind of item may be stocked, and what a weight needs before it can fill a cup."""

#: Kinds that are bought, in the words of files and pages.
BOUGHT = ("plastisol", "colorant", "flake", "additive", "part", "packaging", "wear part")


def stock_units(kind: str) -> tuple[str, ...]:
    """The stock units of a kind, the usual one first.

    Plastisol is kept in mL, since every dose is per mL of base. What goes into a mix is measured;
    parts and packaging are mostly counted."""
    if kind == "plastisol":
        return ("mL",)
    if kind in ("flake", "additive"):
        return ("g", "mL")
    if kind == "colorant":
        return ("mL", "g")
    return ("each", "g", "mL")


def needs_density(kind: str, stock_unit: str) -> bool:
    """Whether a weight of it must be turned into a volume in the cup."""
    return kind in ("colorant", "flake", "additive") and stock_unit == "g"
