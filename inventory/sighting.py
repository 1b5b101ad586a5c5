"""Read what one sees of a lot: “¾ bottle”, “2 bottles and a half”, “1½ jars”, “412 g − 57 g”.

Sums and differences of amounts, each in a unit or as part of a pack. A bare fraction is a part of
the pack; any other bare number counts in the stock unit.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

from inventory import amounts, units
from inventory.amounts import AmountError

#: How finely the eye reads the level in a bottle: an eighth of it (common practice, no source).
EYE = Decimal("0.125")
_NUMBERS = {
    "one": "1",
    "two": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
    "seven": "7",
    "eight": "8",
    "nine": "9",
    "ten": "10",
    "eleven": "11",
    "twelve": "12",
    "a": "1",
    "an": "1",
}
_PARTS = {"half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4}
_NOTHING = {"empty", "nothing", "none", "gone", "all gone"}
_ANY_PACK = {"pack", "package"}
_JOINT = re.compile(r"\s*(?:\b(and|plus|minus|less)\b|([+&−–])|(?<=\s)(-)(?=\s))\s*")
_ROUGHLY = re.compile(r"^(?:about|roughly|approx\.?|ca\.?|[~≈])\s*")
_NOUN = re.compile(r"^(?:full )?(?:of (?:the|a|an) |of )?(?:full )?(.*?)(?: (?:left|full))?$")


@dataclass(frozen=True)
class Pack:
    """A pack that the item comes in: its name and what it holds, in the stock unit."""

    key: str
    name: str
    quantity: Decimal

    @property
    def nouns(self) -> set[str]:
        """What people call it: the words of its name, without numbers and units."""
        words = re.findall(r"[a-z]+", self.name.casefold())
        return {_one(word) for word in words if not _is_unit(word)}


@dataclass(frozen=True)
class Sight:
    """What was seen, in the stock unit. `pack`: the pack it was a part of, if one. `rough`: how far
    off the eye may be; zero where it was measured or counted in whole packs."""

    quantity: Decimal
    pack: Pack | None = None
    rough: Decimal = Decimal(0)


class WhichPack(AmountError):
    """Several sizes fit what was said: `packs` are those to choose from."""

    def __init__(self, packs: Sequence[Pack]) -> None:
        self.packs = packs
        super().__init__("Part of which pack? Choose it.")


@dataclass(frozen=True)
class _Term:
    value: Decimal
    fraction: bool
    noun: str


def read(
    text: str,
    *,
    stock_unit: str,
    facts: Mapping[str, Decimal | None],
    packs: Sequence[Pack] = (),
    chosen: str = "",
) -> Sight:
    """What a text says of a lot. `facts`: figures of `units.convert`; `chosen`: the key of the pack
    that is meant when several fit.

    Raises AmountError or UnitsError in words that say how to write it, or WhichPack."""
    tidy = _ROUGHLY.sub("", " ".join(text.casefold().split()))
    if tidy.rstrip(".") in _NOTHING:
        return Sight(Decimal(0))
    total, rough, meant = Decimal(0), Decimal(0), None
    for sign, term in _terms(tidy):
        pack = _pack(term, packs, chosen)
        if pack is None:
            size = units.convert(term.value, term.noun or stock_unit, stock_unit, **facts)
        else:
            meant = meant or pack
            size = term.value * pack.quantity
            if term.value % 1:
                rough += pack.quantity * EYE
        total += sign * size
    if total < 0:
        raise AmountError("More is taken off than there is. Check the figures.")
    return Sight(total, meant, rough)


def _terms(text: str) -> list[tuple[int, _Term]]:
    """The signed terms; one without a noun takes that of the term it belongs to."""
    pieces = _JOINT.split(text)
    # Three groups stand between two terms: the joint as a word, as a sign, and as a dash.
    signs = [1] + [
        -1 if {"minus", "less", "−", "–", "-"} & set(pieces[i : i + 3]) else 1
        for i in range(1, len(pieces), 4)
    ]
    terms = [_term(piece, text) for piece in pieces[::4]]
    for here, there in [(i, i - 1) for i in range(1, len(terms))] + [(0, 1)]:
        # “2 bottles and a half”, “2 and a half bottles”.
        if here >= len(terms) or there >= len(terms) or terms[here].noun:
            continue
        part = terms[max(here, there)]
        if part.fraction and part.value < 1 and signs[max(here, there)] > 0:
            terms[here] = _Term(terms[here].value, True, terms[there].noun)
    return list(zip(signs, terms, strict=True))


def _term(piece: str, text: str) -> _Term:
    number, noun = _number_and_noun(piece)
    if not number:
        raise AmountError(f"Write a number and what of: ¾ bottle, 90 mL. “{text}” lacks one.")
    return _Term(amounts.number(number), bool(re.search(r"[/⁄∕¼-¾⅐-⅞]", number)), noun)


def _number_and_noun(piece: str) -> tuple[str, str]:
    match = re.fullmatch(r"(?P<number>[^a-z#µ]*)(?P<rest>.*)", piece)
    number, words = match["number"].strip(), match["rest"].split()
    if not number:
        while words and words[0] in _NUMBERS and not (number and words[0] in ("a", "an")):
            number = _NUMBERS[words.pop(0)]
    if words and words[0] in _PARTS:
        # “3 quarters”, “a half”, “half a bottle”
        number = f"{number or 1}/{_PARTS[words.pop(0)]}"
        if words and words[0] in ("a", "an"):
            words.pop(0)
    elif not number and words and words[0] == "full":
        number = "1"
    noun = _NOUN.fullmatch(" ".join(words))[1].strip()
    return number, "" if noun in ("full", "left") else noun


def _pack(term: _Term, packs: Sequence[Pack], chosen: str) -> Pack | None:
    """The pack that a term speaks of; None when it speaks of an amount."""
    if not term.noun:
        if not term.fraction:
            return None
        if not packs:
            raise AmountError(
                f"{_plain(term.value)} of what? Say the unit as well, for example ½ fl oz."
            )
        return _one_of(packs, chosen)
    try:
        units.unit(term.noun)
    except units.UnitsError as error:
        noun = _one(term.noun)
        named = [
            pack
            for pack in packs
            if noun in _ANY_PACK or noun in pack.nouns or noun == pack.name.casefold()
        ]
        if named:
            return _one_of(named, chosen)
        raise _unknown(term.noun, packs, error) from error
    return None


def _one_of(packs: Sequence[Pack], chosen: str) -> Pack:
    if len({pack.quantity for pack in packs}) == 1:
        return packs[0]
    for pack in packs:
        if pack.key == chosen:
            return pack
    raise WhichPack(packs)


def _unknown(noun: str, packs: Sequence[Pack], error: units.UnitsError) -> AmountError:
    if "is not a known unit" not in str(error):
        return AmountError(str(error))
    if noun.startswith("with ") or " with " in noun:
        return AmountError("Take the empty jar's weight off: 412 g − 57 g.")
    if packs:
        names = ", ".join(dict.fromkeys(pack.name for pack in packs))
        return AmountError(
            f"“{noun}” is neither a unit nor one of its packs ({names}). Write ¾ pack, or a unit."
        )
    return AmountError(
        f"“{noun}” is not a known unit, and no pack of this item is written down. "
        "Write an amount: 4 fl oz, 120 g."
    )


def _is_unit(word: str) -> bool:
    try:
        return bool(units.unit(word))
    except units.UnitsError:
        return word in {"fl", "fluid", "us", "count"}


def _one(noun: str) -> str:
    """The singular: “bottles” is “bottle”, “boxes” is “box”."""
    if re.search(r"(?:x|ch|sh|ss)es$", noun):
        return noun[:-2]
    return noun[:-1] if noun.endswith("s") and not noun.endswith("ss") else noun


def _plain(value: Decimal) -> str:
    with localcontext(prec=4):
        return f"{+value:f}"
