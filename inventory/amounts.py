"""Read amounts as people write them (“1½ tsp”), and write them as hands can measure them."""

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal, localcontext

from inventory import units

DEFAULT_SPOONS = ("1 tbsp", "1 tsp", "½ tsp", "¼ tsp", "⅛ tsp")
# More pieces than this and the count is lost between two of them (common practice, no source).
MOST_DROPS = 40
MOST_SPOONS = 8
MOST_ERROR = Decimal("0.1")

_LONGEST = 60
_FRACTIONS = Context(prec=28, rounding=ROUND_HALF_EVEN)
_SIGNS = str.maketrans({"−": "-", "–": "-", "⁄": "/", "∕": "/"})
_SPLIT = re.compile(r"(?P<number>[^a-z#µ]*)(?P<unit>.*)", re.IGNORECASE | re.DOTALL)
_EXPONENT = re.compile(r"[0-9.,]\s*e\s*[-+]?[0-9]", re.IGNORECASE)
_PLAIN = re.compile(r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_MIXED = re.compile(r"(?:(?P<whole>[0-9]+)(?:- ?| ))?(?P<upper>[0-9]+) ?/ ?(?P<lower>[0-9]+)")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]*)?")


class AmountError(ValueError):
    """An amount that cannot be understood; the text says how to write it instead."""


@dataclass(frozen=True)
class Amount:
    """A value in a unit, and the words it was said in. The unit is an id of `units` or a measure."""

    value: Decimal
    unit: str
    said: str


@dataclass(frozen=True)
class HandMeasure:
    """One way to measure a dose: its text, what it makes in the dose's unit, and how far off.

    `error` is |made − dose| ÷ dose, a share: 0.1 is 10 %. `pieces` counts drops or spoons.
    """

    text: str
    made: Decimal
    error: Decimal
    pieces: int

    @property
    def rough(self) -> bool:
        """Whether a bigger batch or a thinned bottle should be suggested."""
        return self.error > MOST_ERROR


def number(text: str, *, allow_negative: bool = False) -> Decimal:
    """Return the number written as 2.5, ½, 1½, 1 1/2, 1-1/2 or 1/3 (28 digits); else AmountError."""
    written = _tidy(text)
    negative = written.startswith("-")
    bare = written.removeprefix("-" if negative else "+").strip()
    value = _magnitude(bare, _quoted(text))
    if value > units.LARGEST:
        raise AmountError("This number is too large. Check the point and the zeros.")
    if negative and value and not allow_negative:
        raise AmountError("The amount cannot be less than zero. Leave out the minus sign.")
    return -value if negative and value else value


def parse(
    text: str,
    *,
    default_unit: str | None = None,
    allow_negative: bool = False,
    measures: Collection[str] = (),
) -> Amount:
    """Return the amount that a text such as “2.5 tsp”, “12 drops” or “1½” says, else AmountError.

    A bare number takes `default_unit`. `measures` are the item's own (pinch, scoop), read in one
    or many, and are returned as the unit just as listed.
    """
    said = " ".join(str(text).split())
    _refuse_too_long(said)
    _refuse_what_is_no_number(said)
    parts = _SPLIT.fullmatch(said)
    named = parts["unit"].strip()
    if named and not parts["number"].strip():
        raise AmountError(f"Begin with the number, for example 12 drops; {_quoted(said)} has none.")
    value = number(parts["number"], allow_negative=allow_negative)
    if not named:
        if default_unit is None:
            raise AmountError(f"Say the unit as well, for example {said} tsp.")
        return Amount(value, default_unit, said)
    return Amount(value, _unit(named, measures), said)


def _unit(named: str, measures: Collection[str]) -> str:
    spoken = named.rstrip(".").casefold()
    for measure in measures:
        one = measure.casefold()
        if spoken in (one, f"{one}s", f"{one}es"):
            return measure
    try:
        return units.unit(named)
    except units.UnitsError as error:
        if re.search(r"[0-9½¼¾⅓⅔⅛].*[a-z]", named, re.IGNORECASE):
            raise AmountError(
                f"Write one number and one unit; after the number stands {_quoted(named)}."
            ) from error
        raise AmountError(str(error)) from error


def _quoted(text: str) -> str:
    short = " ".join(str(text).split())
    return f"“{short[:_LONGEST]}{'…' if len(short) > _LONGEST else ''}”"


def _tidy(text: str) -> str:
    """Spell ½ as 1/2, and every dash, slash and space as the plain one."""
    _refuse_too_long(text)
    # Only one character at a time: a whole "1½" would normalise to "11/2".
    spelled = (
        f" {unicodedata.normalize('NFKC', char)} "
        if unicodedata.decomposition(char).startswith("<fraction>")
        else char
        for char in str(text)
    )
    return " ".join("".join(spelled).translate(_SIGNS).split())


def _refuse_too_long(text: str) -> None:
    if len(str(text)) > _LONGEST:
        raise AmountError(f"This is too long for an amount: {_quoted(text)}.")


def _refuse_what_is_no_number(text: str) -> None:
    if not text:
        raise AmountError("Write an amount, for example 2.5 or 1½.")
    if re.fullmatch(r"[-+−]?\s*(nan|inf|infinity|∞)", text, re.IGNORECASE):
        raise AmountError(f"{_quoted(text)} is not an amount. Write a number, for example 2.5.")
    if _EXPONENT.search(text):
        raise AmountError(f"Write {_quoted(text)} out in full, without the e.")


def _magnitude(bare: str, quoted: str) -> Decimal:
    _refuse_what_is_no_number(bare)
    if bare.startswith("-"):
        raise AmountError(f"{quoted} has more than one sign. Leave out the minus signs.")
    if "," in bare:
        raise AmountError(_about_the_comma(bare, quoted))
    if _PLAIN.fullmatch(bare):
        return Decimal(bare)
    mixed = _MIXED.fullmatch(bare)
    if not mixed:
        raise AmountError(f"{quoted} is not a number. Write it as 2.5, 1½ or 1 1/2.")
    whole, upper, lower = int(mixed["whole"] or 0), int(mixed["upper"]), int(mixed["lower"])
    if lower == 0:
        raise AmountError(f"{quoted} divides by zero. The lower number of a fraction is 1 or more.")
    if mixed["whole"] is not None and upper >= lower:
        raise AmountError(
            f"{quoted} has a fraction of one or more after the whole number. Write it as a decimal."
        )
    return _FRACTIONS.divide(Decimal(whole * lower + upper), Decimal(lower))


def _about_the_comma(bare: str, quoted: str) -> str:
    plain = bare.replace(",", "")
    if _GROUPED.fullmatch(bare):
        if bare.count(",") > 1 or "." in bare:
            return f"Write {plain} without commas."
        point = bare.replace(",", ".")
        return f"{quoted} can mean {plain} or {point}. Write {plain} or {point}."
    if re.fullmatch(r"[0-9]*,[0-9]+", bare):
        before, after = bare.split(",")
        return f"Write {before or '0'}.{after} with a point."
    if re.fullmatch(r"[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+", bare):
        return f"Write {bare.replace('.', '').replace(',', '.')} with a point."
    return f"{quoted} is not a number. Write it with a point and without commas, for example 2.5."


# --- Showing -----------------------------------------------------------------

# The first unit that makes one or more is the handiest; the last takes what is smaller.
_HANDY = {
    ("volume", "us"): ("gal", "qt", "fl oz", "tbsp", "tsp"),
    ("volume", "metric"): ("L", "mL"),
    ("mass", "us"): ("lb", "oz"),
    ("mass", "metric"): ("kg", "g"),
}
_METRIC = ("mL", "L", "g", "kg", "mg")


def show(value: Decimal | int, unit: str, *, system: str | None = None) -> str:
    """Return a quantity for people, with at most three significant decimals: “473.18 mL”.

    It is said in its own unit, or in the handiest unit of `system` ("us" or "metric").
    """
    if system is not None:
        value, unit = in_system(Decimal(value), unit, system)
    digits = _digits(Decimal(value))
    several = abs(Decimal(digits)) > 1 or Decimal(digits) == 0
    many = {"drop": "drops", "US cup": "US cups"} if several else {}
    return f"{digits} {many.get(unit, unit)}"


def other_system(value: Decimal | int, unit: str) -> str:
    """Return a metric quantity in US units and the reverse; "" for drops and counts.

    The text is rounded: put ≈ before it.
    """
    if unit == "drop" or units.kind(unit) == "count":
        return ""
    return show(value, unit, system="us" if unit in _METRIC else "metric")


def in_system(value: Decimal, unit: str, system: str) -> tuple[Decimal, str]:
    """A quantity in the handiest unit of a system; drops and counts as they are."""
    handy = _HANDY.get((units.kind(unit), system))
    if unit == "drop" or handy is None:
        return value, unit
    for name in handy:
        converted = units.convert(value, unit, name)
        if abs(converted) >= 1:
            break
    return converted, name


def _digits(value: Decimal) -> str:
    """At most three decimals, counted from the first that is not zero where |value| < 1."""
    with localcontext(Context(prec=60, rounding=ROUND_HALF_EVEN)):
        places = 3 if not value or value.adjusted() >= 0 else 2 - value.adjusted()
        text = f"{value.quantize(Decimal(1).scaleb(-places)):f}"
    text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


# --- Doses that hands can make -----------------------------------------------


def hand_measures(
    quantity: Decimal,
    unit: str,
    *,
    facts: Mapping[str, Decimal | None],
    spoons: Sequence[str] = DEFAULT_SPOONS,
    scale_step: Decimal | None = Decimal("0.1"),
) -> list[HandMeasure]:
    """Return the ways to measure a dose by hand, the best first; [] for a dose of nothing.

    quantity, unit: the dose in its stock unit. facts: figures of `units.convert` by name.
    spoons: the shop's own, as text. scale_step: grams, None without a scale. Ways that the item
    cannot convert to are left out. First come those with few enough pieces to count, by smallest
    error; then the others, by fewest pieces. At least one drop, spoon or step is used, so a tiny
    dose shows a large error.
    """
    dose = Decimal(quantity)
    if dose < 0:
        raise AmountError("A dose cannot be less than zero.")
    if not dose:
        return []
    if units.kind(unit) == "count":
        return [_whole(dose, unit)]
    ways = [_by_drops(dose, unit, facts), _by_scale(dose, unit, facts, scale_step)]
    ways.append(_by_spoons(dose, unit, facts, spoons))
    limits = {"drops": MOST_DROPS, "spoons": MOST_SPOONS, "scale": 1}
    found = [(name, way) for name, way in ways if way is not None]
    few = [way for name, way in found if way.pieces <= limits[name]]
    many = [way for name, way in found if way.pieces > limits[name]]
    few.sort(key=lambda way: way.error)
    many.sort(key=lambda way: way.pieces)
    return few + many


def _way(text: str, made: Decimal, dose: Decimal, pieces: int) -> HandMeasure:
    return HandMeasure(text, made, abs(made - dose) / dose, pieces)


def _nearest(value: Decimal) -> int:
    return max(1, int(value.to_integral_value(ROUND_HALF_EVEN)))


def _whole(dose: Decimal, unit: str) -> HandMeasure:
    count = _nearest(dose)
    return _way(show(count, unit), Decimal(count), dose, count)


def _by_drops(
    dose: Decimal, unit: str, facts: Mapping[str, Decimal | None]
) -> tuple[str, HandMeasure | None]:
    try:
        count = _nearest(units.convert(dose, unit, "drop", **facts))
    except units.UnitsError:
        return "drops", None
    made = units.convert(count, "drop", unit, **facts)
    return "drops", _way(show(count, "drop"), made, dose, count)


def _by_scale(
    dose: Decimal, unit: str, facts: Mapping[str, Decimal | None], step: Decimal | None
) -> tuple[str, HandMeasure | None]:
    if not step:
        return "scale", None
    try:
        grams = _nearest(units.convert(dose, unit, "g", **facts) / step) * step
    except units.UnitsError:
        return "scale", None
    made = units.convert(grams, "g", unit, **facts)
    return "scale", _way(show(grams, "g"), made, dose, 1)


def _by_spoons(
    dose: Decimal, unit: str, facts: Mapping[str, Decimal | None], spoons: Sequence[str]
) -> tuple[str, HandMeasure | None]:
    try:
        sizes = {
            spoon: units.convert(spoon.value, spoon.unit, unit, **facts)
            for spoon in map(parse, spoons)
        }
    except units.UnitsError:
        return "spoons", None
    order = sorted((spoon for spoon in sizes if sizes[spoon] > 0), key=sizes.get, reverse=True)
    best = None
    for counts in _counts(dose, [sizes[spoon] for spoon in order]):
        made = sum((sizes[s] * n for s, n in zip(order, counts, strict=True)), Decimal(0))
        score = (abs(made - dose), sum(counts))
        if made and (best is None or score < best[0]):
            best = score, made, counts
    if best is None:
        return "spoons", None
    (_, scoops), made, counts = best
    text = " + ".join(_scoops(s, n) for s, n in zip(order, counts, strict=True) if n)
    return "spoons", _way(text, made, dose, scoops)


def _counts(rest: Decimal, sizes: Sequence[Decimal]) -> Iterator[tuple[int, ...]]:
    """Yield counts near a dose: of each spoon as many as go, one fewer and one more."""
    if not sizes:
        yield ()
        return
    if rest <= 0:
        yield (0,) * len(sizes)
        return
    fits = int((rest / sizes[0]).to_integral_value(ROUND_FLOOR))
    for count in range(max(0, fits - 1), fits + 2):
        for others in _counts(rest - count * sizes[0], sizes[1:]):
            yield (count, *others)


def _scoops(spoon: Amount, count: int) -> str:
    if spoon.value % 1 == 0:
        return show(spoon.value * count, spoon.unit)
    return spoon.said if count == 1 else f"{count} × {spoon.said}"
