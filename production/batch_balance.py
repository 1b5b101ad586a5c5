"""The mass balance of batches, read from the books for production/balance.py.

The books close by themselves: shots are booked at what their mold takes. An error shows only against
what was measured since: the rest of the cup, and trim that was weighed."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from inventory import amounts, queries, units
from inventory.models import Entry, Item, Lot, Movement
from production import balance
from production.models import Batch, Bench, Cavity, Shots

_PLASTIC = (Item.Kind.PLASTISOL, Item.Kind.LEFTOVER)


def of(batches: Iterable[Batch]) -> dict[int, balance.Balance]:
    """A balance for each of these standing batches, by id. Six queries however many batches."""
    batches = list(batches)
    shots = list(
        Shots.objects.filter(batches__in=batches, entry__reversed_by=None)
        .select_related("entry")
        .prefetch_related("batches")
        .distinct()
    )
    books = _Books(batches, shots)
    return {batch.pk: books.weigh_up(batch) for batch in batches}


class _Books:
    """The standing lines around some batches, sorted by where they are looked for."""

    def __init__(self, batches: Sequence[Batch], shots: Sequence[Shots]) -> None:
        self.shots = shots
        self.step = float(Bench.ours().scale_step_g)
        own = {batch.lot_id for batch in batches}
        trims = {one.trim_lot_id for one in shots if one.trim_lot_id}
        self.of_lot: dict[int, list[Movement]] = defaultdict(list)
        self.of_entry: dict[int, list[Movement]] = defaultdict(list)
        standing = Movement.objects.filter(queries.STANDING_LINE)
        for line in standing.filter(lot__in=own | trims).select_related("lot", "entry"):
            self.of_lot[line.lot_id].append(line)
        makers = {
            line.entry_id
            for lot in own
            for line in self.of_lot[lot]
            if line.role == Movement.Role.MADE
        }
        wanted = makers | {one.entry_id for one in shots}
        for line in standing.filter(entry__in=wanted).select_related("lot__item"):
            self.of_entry[line.entry_id].append(line)
        self.baits = defaultdict(list)
        for cavity in Cavity.objects.filter(mold__in={one.mold_id for one in shots}):
            self.baits[cavity.mold_id].append(float(cavity.bait_ml))

    def weigh_up(self, batch: Batch) -> balance.Balance:
        lines = self.of_lot[batch.lot_id]
        density = float(batch.lot.item.density_g_per_ml or 1)
        own = [one for one in self.shots if batch.pk in {b.pk for b in one.batches.all()}]
        gave, in_trim, shot_ml = self._gave(batch, own)
        counts = [line for line in lines if line.role == Movement.Role.COUNTED]
        drawn = [line for line in lines if line.role == Movement.Role.DRAWN]
        # A rest that was thrown away had been measured just before: it still counts as left.
        thrown = [line for line in drawn if line.entry.kind == Entry.Kind.WASTE]
        other = [
            balance.read(-_ml(line.quantity))
            for line in drawn
            if line.entry.kind not in (Entry.Kind.SHOTS, Entry.Kind.WASTE)
        ]
        left = _ml(batch.lot.on_hand) - sum(_ml(line.quantity) for line in thrown)
        weighed = self._weighed_trim(in_trim, density)
        baits = [ml for one in own for ml in self.baits[one.mold_id]]
        return balance.Balance(
            self._base_in(lines, density),
            balance.poured(shot_ml, shots=sum(one.count for one in own)),
            {
                "left": balance.read(left) if counts else balance.Volume(left),
                "other cups": balance.together(other),
                "trim, weighed": weighed,
            },
            measured=bool(counts) or weighed.within > 0,
            gave=gave,
            bait_ml=sum(baits) / len(baits) if baits else None,
        )

    def _gave(self, batch: Batch, shots: Sequence[Shots]):
        """mL of the batch's base by what it became, by trim lot, and all that the molds took."""
        gave: dict[str, float] = defaultdict(float)
        in_trim: dict[int, float] = defaultdict(float)
        total = 0.0
        for one in shots:
            lines = self.of_entry[one.entry_id]
            drawn = -sum(
                _ml(line.quantity)
                for line in lines
                if line.lot_id == batch.lot_id and line.role == Movement.Role.DRAWN
            )
            total += drawn
            made = [line for line in lines if line.role == Movement.Role.MADE]
            whole = sum(line.base for line in made) + one.entry.wasted
            for line in made if whole else []:
                part = drawn * line.base / whole
                if line.lot.form == Lot.Form.TRIM:
                    in_trim[line.lot_id] += part
                gave["trim" if line.lot.form == Lot.Form.TRIM else "baits"] += part
            if whole and one.entry.wasted:
                gave["thrown away"] += drawn * one.entry.wasted / whole
        return dict(gave), in_trim, total

    def _weighed_trim(self, in_trim: dict[int, float], density: float) -> balance.Volume:
        """What weighing the trim added to the books' figure, this batch's part of it."""
        found = []
        for lot, part in in_trim.items():
            lines = self.of_lot[lot]
            counts = [line for line in lines if line.role == Movement.Role.COUNTED]
            made = sum(line.quantity for line in lines if line.role == Movement.Role.MADE)
            if counts and made:
                share = part / _ml(made)
                difference = sum(_ml(line.quantity) for line in counts) * share
                step = balance.weighed(difference, step_g=self.step, density=density)
                found.append(step)
        return balance.together(found)

    def _base_in(self, lines: Sequence[Movement], density: float) -> balance.Volume:
        """What was poured in, each part as well as it was measured."""
        makers = [line.entry_id for line in lines if line.role == Movement.Role.MADE]
        poured = [
            self._part(line, density)
            for entry in makers
            for line in self.of_entry[entry]
            if line.role == Movement.Role.DRAWN and line.lot.item.kind in _PLASTIC
        ]
        return balance.together(poured)

    def _part(self, line: Movement, density: float) -> balance.Volume:
        ml = -_ml(line.quantity)
        if _is_weight(line.said):
            return balance.weighed(ml, step_g=self.step, density=density)
        return balance.read(ml)


def _is_weight(said: str) -> bool:
    try:
        return units.kind(amounts.parse(said, default_unit="mL").unit) == "mass"
    except (amounts.AmountError, units.UnitsError):
        return False


def _ml(millionths: int) -> float:
    return float(units.from_micro(millionths))
