"""Lines of an order as people write them: “12 x …”, “3 bags of …”, “… – 5”, “10x … @ 5.50”.

A line is given every reading it allows; which of them names a product decides. Two that do are a
question, not a choice made here.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from shop.finding import Answer, Catalog, Known

#: Lines and letters of one paste.
MOST_LINES = 60
LONGEST_LINE = 200

_NUMBERS = {
    "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
    "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14,
    "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19,
    "a hundred": 100, "one hundred": 100,
}  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_UNITS = (
    "",
    *(name for name, number in _NUMBERS.items() if number < 10 and name not in ("a", "an")),
)
_NUMBERS |= {
    f"{ten}{gap if unit else ''}{unit}": 10 * (tens + 2) + units
    for tens, ten in enumerate(_TENS)
    for units, unit in enumerate(_UNITS)
    for gap in "- "
}
_FIGURE = r"\d{1,3}(?:,\d{3})+|\d+"
_COUNT = rf"(?P<count>{_FIGURE})"
_DOZEN = r"(?:dozen|doz\.?)"
_SAID = (
    rf"(?P<count>{_FIGURE}|(?:half )?an? {_DOZEN}|(?:{_FIGURE}|{'|'.join(_NUMBERS)})(?: {_DOZEN})?)"
)
_BAGS = r"(?:bags?|packs?|packets?|pks?|pkgs?|pouch(?:es)?)\b\.?"
_TIMES = r"(?:[x×✕*]|times\b)"
_NAME = r"(?P<name>\S.*?)"

#: Nobody writes these otherwise than to say how many.
_CLEAR = [
    rf"{_COUNT}\s*{_TIMES}\s*{_NAME}",
    rf"{_SAID}\s*{_BAGS}(?:\s+of)?\s+{_NAME}",
    rf"{_SAID}\s+of\s+{_NAME}",
    rf"(?P<count>(?:half )?an? {_DOZEN}|(?:{_FIGURE}|{'|'.join(_NUMBERS)}) {_DOZEN})\s+{_NAME}",
    rf"{_NAME}(?<![^\s\d]\d)[\s,;:–—-]+{_TIMES}\s*{_COUNT}",
    rf"{_NAME}[\s,;:–—(-]+{_SAID}\s*{_BAGS}\)?",
]
#: These may as well be a part of the name: a pack of 8, say.
_UNCLEAR = [
    rf"(?P<count>{_FIGURE}|{'|'.join(_NUMBERS)})\s+{_NAME}",
    rf"{_NAME}(?:\s*[–—:=]\s*|\s+-\s*|\s*[,;]\s*|\s+){_COUNT}",
    rf"{_NAME}\s*\(\s*{_COUNT}\s*\)",
]
_PRICE = re.compile(
    r"\s*(?:@|\bat\b|\bfor\b)\s*[$€£]?\s*(?P<price>\d{1,7}(?:\.\d{1,2})?)"
    r"(?:\s*(?:each|apiece|ea\.?|a bag|per bag|/\s*bag))?\s*\.?$",
    re.IGNORECASE,
)
_BULLET = re.compile(r"^\s*(?:[-–—*•·‣▪>+]|\[[ xX]?\])+\s+")
_LISTED = re.compile(r"^\s*\d{1,2}[.)]\s+")
_DAY = (
    r"(?:mon|tue(?:s)?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?|to(?:day|night|morrow)"
    r"|(?:the )?weekend|week|month|the \d{1,2}(?:st|nd|rd|th)?|\d{1,2}[/.]\d{1,2}(?:[/.]\d{2,4})?"
    r"|\d{4}-\d{2}-\d{2}"
)
#: What people say around a line: it asks nicely, or names a day, and is no part of a product's name.
_COURTESY = re.compile(
    r"^(?:(?:please|hi|hello|hey)[\s,!]+)*(?:(?:can|could|may) (?:i|we|you)(?: please)? "
    r"(?:have|get|order|buy|make|(?:send|do)(?: (?:me|us))?)|(?:i|we)(?:['’]d| would) like"
    r"|(?:i|we) (?:need|want|take)|send(?: me| us)?|please)\s+",
    re.IGNORECASE,
)
_WHEN = re.compile(
    rf"(?:[\s,]+(?:please|thanks|(?:by|before|until|till|for|on)\s+(?:(?:this|next|coming)\s+)?"
    rf"(?:{_DAY})))*[\s?!.]*$",
    re.IGNORECASE,
)
_compiled = {form: re.compile(form, re.IGNORECASE | re.DOTALL) for form in (*_CLEAR, *_UNCLEAR)}


@dataclass(frozen=True)
class Reading:
    """One way to read a line. `bags` None: it doesn't say how many."""

    bags: int | None
    name: str
    price_minor: int | None = None


@dataclass(frozen=True)
class Line:
    """A line as it came, and what was understood of it.

    `name`: what it calls the product, as far as that is clear.
    `product` and `bags` are None where that is open; `offered`: the products it may mean; `trouble`:
    what to answer or to mend, "" where all is clear."""

    text: str
    name: str
    product: Known | None = None
    bags: int | None = None
    price_minor: int | None = None
    offered: tuple[Known, ...] = ()
    trouble: str = ""


def read(text: str, catalog: Catalog) -> list[Line]:
    """Every line of the text that holds anything, in its order; none is left out and none is guessed."""
    return [_understood(" ".join(line.split()), catalog) for line in split(text)]


def split(text: str) -> list[str]:
    """The lines of the text that hold anything."""
    return [line for line in text.splitlines() if line.strip()]


def readings(line: str) -> list[Reading]:
    """All readings of one line, those that are clear about the number alone where there are any."""
    bare, price = _without_price(_BULLET.sub("", line).strip())
    # "2. Reed Eel": the second line of a list, or two of them? Only the rest of the line can tell.
    listed = _LISTED.sub("", bare)
    clear = _matches(_CLEAR, listed, price)
    if clear:
        return clear
    return [*_matches(_UNCLEAR, bare, price), Reading(None, listed, price)]


def _matches(forms: Iterable[str], text: str, price: int | None) -> list[Reading]:
    found = []
    for form in forms:
        match = _compiled[form].fullmatch(text)
        if match and (bags := _count(match["count"])) is not None:
            reading = Reading(bags, match["name"].strip(" ,;:–—-"), price)
            if reading.name and reading not in found:
                found.append(reading)
    return found


def _without_price(text: str) -> tuple[str, int | None]:
    match = _PRICE.search(text)
    if not match or not text[: match.start()].strip():
        return text, None
    return text[: match.start()].rstrip(" ,;"), int(Decimal(match["price"]) * 100)


def _count(said: str) -> int | None:
    said = re.sub(r"\bdoz\b\.?", "dozen", " ".join(said.casefold().replace(",", "").split()))
    dozens = said.removesuffix("dozen").strip() if said.endswith("dozen") else None
    if dozens is not None:
        if dozens.startswith("half"):
            return 6
        return 12 * (_NUMBERS.get(dozens) or int(dozens or 1))
    return _NUMBERS[said] if said in _NUMBERS else int(said)


def _understood(line: str, catalog: Catalog) -> Line:
    if len(line) > LONGEST_LINE:
        return Line(
            line, line, trouble=f"This line is longer than {LONGEST_LINE} letters. Shorten it."
        )
    tried = _tried(line, catalog)
    bare = _WHEN.sub("", _COURTESY.sub("", _BULLET.sub("", line)), count=1)
    if bare != line and bare and not any(_fits(answer) for _, answer in tried):
        again = _tried(bare, catalog)
        tried = again if any(_fits(answer) for _, answer in again) else tried
    price = tried[0][0].price_minor
    sure = [(reading, answer) for reading, answer in tried if _fits(answer)]
    if not sure:
        close = dict.fromkeys(known for _, answer in tried for known in answer.offered)
        bags = {reading.bags for reading, _ in tried}
        return Line(
            line,
            tried[0][0].name,
            bags=bags.pop() if len(bags) == 1 else None,
            price_minor=price,
            offered=tuple(close),
            trouble="No product fits this. " + ("Is it one of these?" if close else "Which is it?"),
        )
    products = dict.fromkeys(
        known
        for _, answer in sure
        for known in ((answer.found,) if answer.found else answer.offered)
    )
    counts = {reading.bags for reading, _ in sure}
    product = next(iter(products)) if len(products) == 1 else None
    bags = next(iter(counts)) if len(counts) == 1 else None
    return Line(
        line,
        product.name if product else sure[0][0].name,
        product,
        bags,
        price,
        () if product else tuple(products),
        _question(product, bags, counts),
    )


def _tried(line: str, catalog: Catalog) -> list[tuple[Reading, Answer]]:
    return [(reading, catalog.find(reading.name)) for reading in readings(line)]


def _fits(answer: Answer) -> bool:
    return bool(answer.found or (answer.offered and answer.sure))


def _question(product: Known | None, bags: int | None, counts: set[int | None]) -> str:
    asked = []
    if product is None:
        asked.append("This fits several products: which one?")
    if bags is None:
        said = sorted(count for count in counts if count is not None)
        maybe = f" The {said[0]} may be the bags or a part of the name." if said else ""
        asked.append(f"How many bags?{maybe}")
    elif not bags:
        asked.append("This says no bags at all. How many?")
    return " ".join(asked)
