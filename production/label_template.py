"""Which parts of a label show, and how large: a template's parts as stored, checked and explained."""

from collections.abc import Mapping
from dataclasses import dataclass, field

#: Part → what it is called, and its usual size in per cent (0: not shown).
PARTS: dict[str, tuple[str, int]] = {
    "logo": ("logo", 0),
    "bait": ("bait and length", 100),
    "color": ("color", 100),
    "count": ("how many", 100),
    "maker": ("shop and town", 100),
    "lot": ("lot and date", 100),
    "note": ("what it is, origin, warning", 100),
    "barcode": ("retail barcode", 100),
    "bars": ("lot code as bars", 0),
    "address": ("QR code of your public address", 0),
}
#: Codes keep the sizes of their standards: they show or they don't.
SWITCHES = frozenset({"barcode", "bars", "address"})
LEAST, MOST = 50, 200


@dataclass(frozen=True)
class Template:
    """Part → size in per cent; 0 leaves the part out. Parts not named have their usual size."""

    parts: Mapping[str, int] = field(default_factory=dict)

    def size(self, part: str) -> int:
        return self.parts.get(part, PARTS[part][1])

    def shows(self, part: str) -> bool:
        return self.size(part) > 0

    def scale(self, part: str) -> float:
        """1 for the usual size."""
        return self.size(part) / 100


USUAL = Template()


def read(stored: Mapping[str, object]) -> Template:
    """A template from what was stored; what it can't mean (an older part, an odd size) is left out."""
    parts = {}
    for part in PARTS:
        size = stored.get(part)
        if isinstance(size, int) and (size == 0 or LEAST <= size <= MOST):
            parts[part] = size
    return Template(parts)
