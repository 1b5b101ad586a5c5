"""What a package should say: a checklist with sources, for one product.

A checklist, not legal advice: local rules decide. Rules are those of the US as far as they were read
(16 CFR 500.21 and 15 USC 1453 quoted in the Federal Register and by states; NIST Handbook 130, Uniform
Packaging and Labeling Regulation, as adopted by states). Baits may not be a "consumer commodity" in the
sense of 15 USC 1459; the same rules are then a yardstick, no duty."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from production import labels

YES, NO, LOOK = "yes", "no", "look"


@dataclass(frozen=True)
class Package:
    """What is known of a product's package. Texts may be empty, measures None.

    `front_mm`: width and height of its front. `count_height_mm`: the measured height of the printed
    count's lower case; `refused`: why no label can be drawn. `warning_on`: the day of the warning's wording."""

    identity: str
    count: str
    maker: str
    place: str
    origin: str = ""
    front_mm: tuple[float, float] | None = None
    count_height_mm: float | None = None
    refused: str = ""
    warning: str = ""
    warning_on: date | None = None
    child_directed: bool = False


@dataclass(frozen=True)
class Check:
    """One point: whether it is met, what it says, and what it rests on."""

    what: str
    state: str
    says: str
    source: str


def checks(package: Package) -> Sequence[Check]:
    """Every point of the checklist, in the order of the list."""
    return (
        _said(
            "What it is",
            package.identity,
            "Write what it is in a shopper's words, such as soft plastic fishing baits.",
            "15 USC 1453(a)(1)",
        ),
        _said(
            "How many are in it",
            package.count,
            "Say how many baits are in the bag.",
            "15 USC 1453(a)(2)",
        ),
        _maker(package),
        _height(package),
        _origin(package),
        _warning(package),
        _children(package),
    )


def front_sq_in(front_mm: tuple[float, float]) -> float:
    """The area of a rectangular front in square inches: height by width (16 CFR 500.21(a))."""
    return front_mm[0] * front_mm[1] / 25.4**2


def _said(what: str, text: str, missing: str, source: str) -> Check:
    return Check(what, YES, text, source) if text else Check(what, NO, missing, source)


def _maker(package: Package) -> Check:
    source = "15 USC 1453(a)(1)"
    if package.maker and package.place:
        return Check("Who made it, and where", YES, f"{package.maker}, {package.place}", source)
    missing = " and ".join(
        name
        for name, text in (
            ("the shop's name", package.maker),
            ("its town and state", package.place),
        )
        if not text
    )
    return Check("Who made it, and where", NO, f"Write {missing} under Setup.", source)


def _height(package: Package) -> Check:
    what = "Letters of the count"
    source = "16 CFR 500.21; its five bands from memory, as in 21 CFR 101.7(i)"
    if package.front_mm is None:
        return Check(
            what,
            LOOK,
            "Measure the front of the bag, or of its header card: the larger it is, the larger the "
            "letters must be.",
            source,
        )
    area = front_sq_in(package.front_mm)
    least = labels.type_height_mm(area)
    needed = f"The front has {area:.1f} sq in: at least {least:.2f} mm ({_inch(least)})"
    drawn = package.count_height_mm
    if drawn is None:
        return Check(what, NO, f"{needed}. The label can't be drawn. {package.refused}", source)
    # The law's heights are exact; the drawing is right to a thousandth of a millimeter.
    state = YES if drawn >= least - 0.001 else NO
    return Check(what, state, f"{needed}; the label's are {drawn:.2f} mm.", source)


def _inch(mm: float) -> str:
    return {1: "1/16 in", 2: "1/8 in", 3: "3/16 in", 4: "1/4 in", 8: "1/2 in"}[round(mm / 1.5875)]


def _origin(package: Package) -> Check:
    source = "19 USC 1304 for imports, 16 CFR 323 for claims of US origin; both from memory"
    if package.origin:
        return Check(
            "Where it comes from",
            LOOK,
            f"“{package.origin}”: be able to prove it, parts and plastic included.",
            source,
        )
    return Check(
        "Where it comes from", LOOK, "Nothing is printed. Some goods and places ask for it.", source
    )


def _warning(package: Package) -> Check:
    source = "California Proposition 65; Regulation (EU) 2023/2055; your own advice"
    if not package.warning:
        return Check(
            "Warnings", LOOK, "None is printed. Whether one is needed is yours to find out.", source
        )
    dated = f", wording of {package.warning_on:%Y-%m-%d}" if package.warning_on else ""
    return Check("Warnings", YES, f"“{package.warning}”{dated}", source)


def _children(package: Package) -> Check:
    source = "16 CFR 1307.3"
    if package.child_directed:
        return Check(
            "Made for children",
            NO,
            "Phthalate limits and testing by a laboratory may apply: ask before you sell it.",
            source,
        )
    return Check("Made for children", YES, "Not made or sold for children.", source)
