"""Cells of the paper evening's table that hold several things at once, as people write them.

Each reader raises forms.ValidationError that says how to write it instead."""

import re
from collections.abc import Mapping, Sequence

from django import forms

from inventory import amounts, temperature
from inventory.models import Item
from production import peaks
from production.forms import bench_amounts
from production.models import RejectReason
from production.services import batches, heats
from production.services.paper_evening import Warming

_REJECT = re.compile(r"(\d{1,4})\s*[×x]?\s*([a-z ]*)", re.IGNORECASE)
_HEAT = re.compile(r"([\d.½¼¾ /]+?)\s*(?:min(?:utes?)?\.?)?(?:[\s,]+(\d.*))?", re.IGNORECASE)


def counts(text: str, wanted: int) -> list[int]:
    """“22”, or “12, 11” where a mold gives two baits."""
    found = re.split(r"\s*[,+;]\s*|\s+", text.strip())
    if not all(part.isdecimal() and len(part) < 6 for part in found):
        raise forms.ValidationError("Write a whole number: 22.")
    if len(found) != wanted:
        raise forms.ValidationError(
            f"This mold gives {wanted} baits: write a number for each, parted by commas."
        )
    return [int(part) for part in found]


def rejects(text: str) -> Mapping[str, int]:
    """“2 air, 1 dent”. A bare number gives no reason, and is what cavities and good ones say anyhow."""
    found: dict[str, int] = {}
    for part in _parts(text, "[,;]"):
        match = _REJECT.fullmatch(part)
        reason = match and _reason(match.group(2))
        if match is None or reason is None:
            names = ", ".join(RejectReason.values)
            raise forms.ValidationError(f"Write a number and why: 2 air, 1 dent. Known: {names}.")
        if reason:
            found[reason] = found.get(reason, 0) + int(match.group(1))
    return found


def doses(text: str, items: Mapping[str, Item]) -> tuple[batches.Part, ...]:
    """“Moss tint: 12 drops; Ember flake: 1 g”; `items` by their names in lower case."""
    found = []
    for part in _parts(text, "[;\n]"):
        name, colon, amount = part.partition(":")
        if not colon or not amount.strip():
            raise forms.ValidationError(
                "Write each dose as name: amount; several parted by semicolons."
            )
        item = _item(name, items)
        if item is None:
            raise forms.ValidationError(f"“{name.strip()}” is on no shelf. Write its name in full.")
        said = bench_amounts.understand(amount.strip(), item)
        found.append(batches.Part(item, said.millionths, None, said.said, said.guessed))
    return tuple(found)


def warmings(text: str, system: str) -> tuple[Warming, ...]:
    """“4 min 350 F; 3 min”: minutes, and the peak where one was read. `system` as in peaks.read."""
    return tuple(_warming(part, system) for part in _parts(text, ";"))


def _warming(text: str, system: str) -> Warming:
    match = _HEAT.fullmatch(text)
    if match is None:
        raise forms.ValidationError("Write minutes and the peak: 4 min 350 F; 3 min 177 C.")
    try:
        minutes = amounts.number(match.group(1).strip())
        peak = peaks.read(match.group(2), system) if match.group(2) else None
    except (amounts.AmountError, temperature.TemperatureError) as error:
        raise forms.ValidationError(str(error)) from error
    if not 0 < minutes <= heats.MOST_MINUTES:
        raise forms.ValidationError(f"Between a moment and {heats.MOST_MINUTES} minutes, please.")
    minutes = round(minutes, 1)
    return Warming(minutes, peak.celsius, peak.doubt) if peak else Warming(minutes)


def _parts(text: str, between: str) -> Sequence[str]:
    return [part.strip() for part in re.split(between, text) if part.strip()]


def _item(name: str, items: Mapping[str, Item]) -> Item | None:
    wanted = " ".join(name.split()).lower()
    fitting = [item for key, item in items.items() if key.startswith(wanted)]
    return items.get(wanted) or (fitting[0] if wanted and len(fitting) == 1 else None)


def _reason(word: str) -> str | None:
    word = word.strip().lower()
    if not word:
        return ""
    return next((r for r in RejectReason.values if r == word or r.split()[0] == word), None)
