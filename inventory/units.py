"""Exact conversion between the kitchen, shop and metric units in which stock is counted.

Factors follow from three definitions: the inch is 25.4 mm, the US gallon 231 cubic inches and the
pound 453.59237 g (NIST SP 811 appendix B, NIST HB 44 appendix C). US cup, pint, quart and ounces
are the US customary ones, never imperial and never the rounded kitchen values (5 mL, 240 mL).
"""

import numbers
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import (
    ROUND_HALF_EVEN,
    Context,
    Decimal,
    DivisionByZero,
    InvalidOperation,
    Overflow,
    localcontext,
)

MM_PER_INCH = Decimal("25.4")
CUBIC_INCH_ML = Decimal("16.387064")
GALLON_ML = 231 * CUBIC_INCH_ML
POUND_G = Decimal("453.59237")
TEASPOON_ML = GALLON_ML / 768

# mL in one of each true volume; a drop has no fixed size and stands apart.
_ML = {
    "mL": Decimal(1),
    "L": Decimal(1000),
    "US cup": GALLON_ML / 16,
    "fl oz": GALLON_ML / 128,
    "pt": GALLON_ML / 8,
    "qt": GALLON_ML / 4,
    "gal": GALLON_ML,
    "tbsp": GALLON_ML / 256,
    "tsp": TEASPOON_ML,
    "in3": CUBIC_INCH_ML,
}
_G = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "mg": Decimal("0.001"),
    "oz": POUND_G / 16,
    "lb": POUND_G,
}
_EACH = {"each": Decimal(1), "dozen": Decimal(12)}

VOLUMES = ("mL", "L", "tsp", "tbsp", "fl oz", "US cup", "pt", "qt", "gal", "in3", "drop")
MASSES = ("g", "kg", "mg", "oz", "lb")
COUNTS = ("each", "dozen")
UNITS = VOLUMES + MASSES + COUNTS
STOCK_UNITS = ("mL", "g", "each")
# Scooped, not filled: of flake these hold air too, so the weight of a teaspoon rules, not density.
SPOONS = ("tsp", "tbsp", "US cup")

MICRO = 1_000_000
# 10**18 millionths; a signed 64-bit column holds 9.2 of these.
LARGEST = Decimal(10) ** 12

_SPELLINGS = {
    "mL": "ml mls milliliter milliliters millilitre millilitres cc ccm cm3 cm³ cm^3",
    "L": "l liter liters litre litres",
    "US cup": "us_cup us_cups u_s_cup u_s_cups cup cups",
    "fl oz": "fl_oz floz fl_ozs fluid_ounce fluid_ounces fl_ounce fl_ounces us_fl_oz fluid_oz",
    "pt": "pt pts pint pints us_pint us_pints",
    "qt": "qt qts quart quarts us_quart us_quarts",
    "gal": "gal gals gallon gallons us_gal us_gallon us_gallons",
    "tbsp": "tbsp tbsps tbs tablespoon tablespoons",
    "tsp": "tsp tsps teaspoon teaspoons",
    "drop": "drop drops",
    "in3": "in3 in³ in^3 cu_in cubic_in cubic_inch cubic_inches",
    "g": "g gm gms gram grams gramme grammes",
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "mg": "mg mgs milligram milligrams milligramme milligrammes",
    "oz": "oz ozs ounce ounces",
    "lb": "lb lbs pound pounds",
    "each": "each ea piece pieces pc pcs",
    "dozen": "dozen dozens doz dz",
}
_BY_SPELLING = {
    spelling.replace("_", " "): name
    for name, spellings in _SPELLINGS.items()
    for spelling in spellings.split()
}
_UNCLEAR = {
    "t": "“t” can be a teaspoon, a tablespoon or a ton. Write tsp or tbsp.",
    "gr": "“gr” can be a gram or a grain. Write g for grams.",
    "c": "“c” is not clear. Write US cup.",
}


class UnitsError(ValueError):
    """A unit that is not known, or a conversion that lacks a figure; the text says which."""


@contextmanager
def _exactly() -> Iterator[None]:
    """Fifty digits whatever the caller's context: any stored quantity times any factor is exact."""
    traps = [InvalidOperation, DivisionByZero, Overflow]
    with localcontext(Context(prec=50, rounding=ROUND_HALF_EVEN, traps=traps)):
        yield


def _decimal(value: Decimal | int | float | str, what: str = "quantity") -> Decimal:
    """Read a number; a float counts as the shortest decimal that names it (0.1 is one tenth)."""
    try:
        if isinstance(value, Decimal):
            number = value
        elif isinstance(value, bool):
            raise UnitsError(f"The {what} must be a number.")
        elif isinstance(value, float):
            number = Decimal(repr(value))
        elif isinstance(value, numbers.Rational):
            with _exactly():
                number = Decimal(value.numerator) / Decimal(value.denominator)
        else:
            number = Decimal(value)
    except (ArithmeticError, TypeError) as error:
        raise UnitsError(f"The {what} must be a number.") from error
    if not number.is_finite():
        raise UnitsError(f"The {what} must be a finite number.")
    if number and number.adjusted() > 40:
        raise UnitsError(f"The {what} is too large.")
    return number


def unit(name: str) -> str:
    """Return the stable id of a unit from any usual spelling, in any case: “Teaspoons” is "tsp".

    A bare ounce is the ounce of weight; the ounce of volume is "fl oz". Raises UnitsError.
    """
    if name in UNITS:
        return name
    spelling = " ".join(name.replace(".", " ").casefold().split())
    if spelling in _UNCLEAR:
        raise UnitsError(_UNCLEAR[spelling])
    if spelling not in _BY_SPELLING:
        raise UnitsError(f"“{name.strip()}” is not a known unit. Known are {', '.join(UNITS)}.")
    return _BY_SPELLING[spelling]


def kind(name: str) -> str:
    """Return "volume", "mass" or "count" for a unit's id."""
    return "volume" if name in VOLUMES else "mass" if name in MASSES else "count"


def convert(
    quantity: Decimal | int | float | str,
    from_unit: str,
    to_unit: str,
    *,
    density_g_per_ml: Decimal | float | str | None = None,
    ml_per_drop: Decimal | float | str | None = None,
    g_per_tsp: Decimal | float | str | None = None,
) -> Decimal:
    """Convert a quantity, negative ones too; raise UnitsError that names the figure missing.

    Between volume and mass, a spoon measure (SPOONS) goes by `g_per_tsp` when it is given, since
    scooped flake holds air; every other volume goes by density. Each stands in when the other is
    not given. Volume to volume is plain geometry. The answer is exact where it has up to fifty
    digits and is otherwise rounded to fifty.
    """
    start, end = unit(from_unit), unit(to_unit)
    amount = _decimal(quantity)
    if start == end:
        return amount
    facts = _facts(density_g_per_ml, ml_per_drop, g_per_tsp)
    _require(start, end, facts)
    with _exactly():
        return amount * _size(start, end, facts) / _size(end, start, facts)


def _facts(density, drop, spoon) -> dict[str, Decimal | None]:
    return {
        "density": _figure(density, "density"),
        "drop": _figure(drop, "size of a drop"),
        "spoon": _figure(spoon, "weight of a teaspoon"),
    }


def _figure(value: Decimal | float | str | None, what: str) -> Decimal | None:
    if value is None:
        return None
    number = _decimal(value, what)
    if number <= 0 or number.adjusted() < -40:
        raise UnitsError(f"The {what} must be more than zero.")
    return number


def _require(start: str, end: str, facts: dict[str, Decimal | None]) -> None:
    kinds = {kind(start), kind(end)}
    if len(kinds) == 2 and "count" in kinds:
        raise UnitsError(f"{start} cannot be turned into {end}: one is counted, one is measured.")
    missing = []
    if "drop" in (start, end) and facts["drop"] is None:
        missing.append("size of a drop")
    if len(kinds) == 2 and facts["density"] is None and facts["spoon"] is None:
        spoon = start in SPOONS or end in SPOONS
        missing.append("weight of a teaspoon (or the density)" if spoon else "density")
    if missing:
        verb = "is" if len(missing) == 1 else "are"
        figures = " and the ".join(missing)
        raise UnitsError(f"To turn {start} into {end} the {figures} of the item {verb} needed.")


def _size(name: str, other: str, facts: dict[str, Decimal | None]) -> Decimal:
    """Size of a unit in mL, g or each; in g when the other unit is a mass."""
    if name in _G:
        return _G[name]
    if name in _EACH:
        return _EACH[name]
    millilitres = facts["drop"] if name == "drop" else _ML[name]
    if kind(other) == "volume":
        return millilitres
    if facts["spoon"] is not None and (name in SPOONS or facts["density"] is None):
        return millilitres / TEASPOON_ML * facts["spoon"]
    return millilitres * facts["density"]


def convertible(
    stock_unit: str,
    *,
    density_g_per_ml: Decimal | None = None,
    ml_per_drop: Decimal | None = None,
    g_per_tsp: Decimal | None = None,
) -> list[str]:
    """Return the units that turn into `stock_unit` with the figures known, the stock unit first."""
    home = unit(stock_unit)
    facts = _facts(density_g_per_ml, ml_per_drop, g_per_tsp)
    found = [home]
    for name in UNITS:
        try:
            _require(name, home, facts)
        except UnitsError:
            continue
        if name != home:
            found.append(name)
    return found


def fahrenheit_to_celsius(degrees: Decimal | int | float | str) -> Decimal:
    """Return °C from °F: (F − 32) × 5/9 (NIST SP 811 B.8)."""
    with _exactly():
        return (_decimal(degrees, "temperature") - 32) * 5 / 9


def celsius_to_fahrenheit(degrees: Decimal | int | float | str) -> Decimal:
    """Return °F from °C: C × 9/5 + 32 (NIST SP 811 B.8)."""
    with _exactly():
        return _decimal(degrees, "temperature") * 9 / 5 + 32


def to_micro(value: Decimal | int | float | str) -> int:
    """Return whole millionths, rounded half-even once; UnitsError above LARGEST units either way."""
    number = _decimal(value)
    if abs(number) > LARGEST:
        raise UnitsError("The quantity is too large: at most 1 000 000 000 000 can be kept.")
    with _exactly():
        return int(number.quantize(Decimal("0.000001")).scaleb(6))


def from_micro(millionths: int) -> Decimal:
    """Return the quantity held in a column of whole millionths."""
    with _exactly():
        return Decimal(millionths).scaleb(-6)
