"""Which product a text means: its name, its number, what others call it, or fragments of bait, color and pack.

Never a guess: where a text fits several products, all of them are given for someone to choose from.
"""

import difflib
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field

#: So many products are offered to choose from.
MOST_OFFERED = 8
#: Letters of a text that are looked at.
LONGEST = 200

_WORDS = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Known:
    """A product as it can be asked for.

    `also`: its baits and colors; `exactly`: what means it alone (barcode number, what others call it).
    `retired`: no longer sold; found only where nothing else is."""

    key: int
    name: str
    also: tuple[str, ...] = ()
    exactly: tuple[str, ...] = ()
    retired: bool = False


@dataclass(frozen=True)
class Answer:
    """`found`: the one product meant. `offered`: those it might be; `sure` where words of the text fit
    them, not sure where only the spelling is close."""

    found: Known | None = None
    offered: tuple[Known, ...] = ()
    sure: bool = True


def words(text: str) -> tuple[str, ...]:
    """The words and figures of a text, without letter size, accents and punctuation."""
    plain = unicodedata.normalize("NFKD", text[:LONGEST]).casefold()
    return tuple(_WORDS.findall("".join(c for c in plain if not unicodedata.combining(c))))


@dataclass
class Catalog:
    """All products, ready to be searched."""

    products: Iterable[Known]
    _exact: dict[tuple[str, ...], list[Known]] = field(default_factory=dict, init=False)
    _searched: list[tuple[Known, frozenset[str]]] = field(default_factory=list, init=False)

    def __post_init__(self) -> None:
        self.products = tuple(self.products)
        for known in self.products:
            for said in {words(text) for text in (known.name, *known.exactly)}:
                self._exact.setdefault(said, []).append(known)
            named = {word for text in (known.name, *known.also) for word in words(text)}
            self._searched.append((known, frozenset(named)))

    def exactly(self, text: str) -> Known | None:
        """The one product that has this name, number or other name in full."""
        same = _sold_first(self._exact.get(words(text), []))
        return same[0] if len(same) == 1 else None

    def find(self, text: str) -> Answer:
        """What the text means. A text without a word or figure means nothing."""
        said = words(text)
        if not said:
            return Answer()
        same = _sold_first(self._exact.get(said, []))
        return _answer(same) if same else _answer(self._by_fragments(said)) or self._close(text)

    def search(self, text: str, most: int = MOST_OFFERED) -> list[Known]:
        """Products sold today that the text fits, for someone who is still typing; all for an empty text."""
        said = words(text)
        fitting = [known for known in self._by_fragments(said) if not known.retired]
        return sorted(fitting, key=lambda known: known.name)[:most]

    def _by_fragments(self, said: tuple[str, ...]) -> list[Known]:
        # A figure that stands twice is two figures: in "8 Eel, 8" one may be how many.
        twice = {word for word in said if word.isdigit() and said.count(word) > 1}
        return _sold_first(
            [
                known
                for known, named in self._searched
                if all(_fits(word, named) for word in said)
                and all(words(known.name).count(word) >= said.count(word) for word in twice)
            ]
        )

    def _close(self, text: str) -> Answer:
        names = {known.name.casefold(): known for known in self.products if not known.retired}
        close = difflib.get_close_matches(text[:LONGEST].casefold(), names, n=4, cutoff=0.6)
        return Answer(offered=tuple(names[name] for name in close), sure=False)


def _fits(word: str, named: frozenset[str]) -> bool:
    """Whether a word begins one of the names; a figure must be the whole of it: 8 is not 80."""
    return word in named or (not word.isdigit() and any(name.startswith(word) for name in named))


def _sold_first(found: list[Known]) -> list[Known]:
    return [known for known in found if not known.retired] or found


def _answer(found: list[Known]) -> Answer | None:
    if not found:
        return None
    return Answer(found=found[0]) if len(found) == 1 else Answer(offered=tuple(found))
