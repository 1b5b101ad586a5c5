"""A recall sheet's figures: of a lot and all that came of it, what is here and what left to whom."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.lineage import Family, Reached
from inventory.models import Lot


@dataclass(frozen=True)
class Line:
    """One event in which some of a lot left."""

    lot: Lot
    reached: Reached


@dataclass(frozen=True)
class Receiver:
    """Somebody whom the lot reached, with every event of it."""

    name: str
    contact: str
    lines: tuple[Line, ...]

    @property
    def quantity(self) -> int:
        return sum(line.reached.quantity for line in self.lines)


@dataclass(frozen=True)
class Recall:
    lot: Lot
    here: tuple[Lot, ...]
    receivers: tuple[Receiver, ...]

    @property
    def free(self) -> list[Lot]:
        """What is here and not yet on hold."""
        return [lot for lot in self.here if not lot.held]

    @property
    def quantity(self) -> int:
        """Everything that left, in millionths of a piece."""
        return sum(receiver.quantity for receiver in self.receivers)


def of(family: Family) -> Recall:
    """The recall of a family's lot."""
    by_name: dict[tuple[str, str], list[Line]] = {}
    for each in family.reached:
        line = Line(family.lots[each.lot], each)
        by_name.setdefault((each.to, each.contact), []).append(line)
    receivers = [
        Receiver(name, contact, tuple(lines)) for (name, contact), lines in by_name.items()
    ]
    return Recall(family.lot, tuple(family.here), tuple(receivers))


def message(recall: Recall, shop: str) -> str:
    """Words for those who got bags of it; the owner fills in what is wrong."""
    codes = sorted({line.lot.printed for receiver in recall.receivers for line in receiver.lines})
    return (
        "Hello,\n\n"
        f"we are taking back bags with {'this lot code' if len(codes) == 1 else 'these lot codes'}: "
        f"{_listed(codes)}.\n"
        "The code is printed on the label. Please stop using and selling them, put them aside, and "
        "write to us how many you have.\n\n"
        "Why: …\n\n"
        f"We are sorry for the trouble.\n{shop}\n"
    )


def _listed(codes: Sequence[str]) -> str:
    return ", ".join(codes) if codes else "…"
