"""What really went into the cup: base, leftover, the planned doses and whatever else."""

import re

from django import forms
from django.db.models import Q

from inventory import forms_base, queries, units
from inventory.models import Item, Lot
from inventory.services import on_hold
from inventory.wording import quantity_text
from production import batch_plan, batch_record, doubts
from production.forms import bench_choices, plastic
from production.forms.asking import AskingForm
from production.forms.bench_amounts import LotField, Said, SaidField, lot_text, understand
from production.forms.leftover import MORE_THAN_POURED
from production.models import Cup, RecipeVersion
from production.services import batches, leftovers

EXTRAS = 3
#: Rows for other poured plastic; a plan's batch may ask for more of them.
SOURCES, MOST_SOURCES = 3, 10


class MixForm(AskingForm):
    """Filled in as planned; every figure can be overwritten with what hands did."""

    note = forms.CharField(max_length=500, required=False)

    def __init__(
        self,
        *args,
        version: RecipeVersion | None,
        plan: batch_plan.Plan,
        leftover: Lot | None,
        cup: Cup | None,
        measured: int | None = None,
        **kwargs,
    ) -> None:
        """`measured`: what the leftover's cup was seen to hold, to be counted as it is mixed."""
        super().__init__(*args, **kwargs)
        self.version, self.plan, self.leftover, self.cup = version, plan, leftover, cup
        self.measured = measured
        self.items = {
            item.pk: item
            for item in Item.objects.current()
            .filter(kind__in=[Item.Kind.PLASTISOL, *Item.DOSED])
            .prefetch_related("measures")
        }
        # What the recipe names is offered though it was put away since.
        self.items = {dose.item.pk: dose.item for dose in plan.doses} | self.items
        if version:
            self.items.setdefault(version.grade_id, version.grade)
        self.stock = _stock(self.items, also=self._posted_lots())
        self._base_fields()
        for dose in plan.doses:
            self._dose_fields(dose)
        offered = [
            (item.get_kind_display(), str(item.pk), item.name)
            for item in self.items.values()
            if item.kind in Item.DOSED
        ]
        for number in range(1, EXTRAS + 1):
            self.fields[f"extra_{number}"] = forms.ChoiceField(
                label="What else", choices=_grouped(offered), required=False
            )
            self.fields[f"extra_amount_{number}"] = forms.CharField(
                label="How much", max_length=60, required=False
            )
        self._source_fields()

    def _source_fields(self) -> None:
        """Other leftovers, trim and pucks that go in as well."""
        asked = [
            number
            for number in range(1, MOST_SOURCES + 1)
            if f"source_{number}" in self.data or f"source_{number}" in self.initial
        ]
        self.sources = max([SOURCES, *asked])
        chosen = [str(self.data.get(f"source_{n}", "")) for n in range(1, self.sources + 1)]
        poured = bench_choices.leftovers(*chosen)
        others = [lot for lot in poured if lot != self.leftover]
        for number in range(1, self.sources + 1):
            self.fields[f"source_{number}"] = LotField(
                others,
                label="Poured plastic",
                empty_label="No more of it",
                label_of=lambda lot: lot.label,
            )
            self.fields[f"source_amount_{number}"] = forms.CharField(
                label="How much of it",
                max_length=60,
                required=False,
                help_text=plastic.HOW_MUCH,
            )
            self._explain_source(number)
        self.has_sources = bool(others)

    def _explain_source(self, number: int) -> None:
        """Says beside an amount of other plastic what it is taken for, once both are known."""
        lot, text = (
            self.data.get(name, "") if self.is_bound else self.initial.get(name, "")
            for name in (f"source_{number}", f"source_amount_{number}")
        )
        try:
            lot = self.fields[f"source_{number}"].clean(lot)
            said = plastic.understand(text, lot, self._key) if lot and text else None
        except forms.ValidationError:
            return
        amount = self.fields[f"source_amount_{number}"]
        amount.help_text = f"{amount.help_text} {plastic.understood(said)}".strip()

    @property
    def _key(self) -> str:
        return str(self.data.get("key", ""))

    def _posted_lots(self) -> list[str]:
        """Lots that were offered when the form was opened; a second press may find them empty."""
        found = (value for name, value in self.data.items() if "lot" in name)
        return [pk for pk in found if str(pk).isdecimal() and len(str(pk)) < 18]

    def _planned(self, name: str, planned: int) -> int:
        """The planned quantity that a field means by the rounded text that the page shows, and takes as
        its estimate when what was said has no figure: a batch has some base.

        It travels with the form: the same press twice must say the same, though the leftover that
        it was planned with is gone after the first."""
        self.fields[f"planned_{name}"] = forms.IntegerField(
            widget=forms.HiddenInput, initial=planned, required=False
        )
        sent = str(self.data.get(f"planned_{name}", "")) if self.is_bound else ""
        return int(sent) if re.fullmatch("[0-9]{1,12}", sent) else planned

    def _base_fields(self) -> None:
        bases = [item for item in self.items.values() if item.kind == Item.Kind.PLASTISOL]
        self.grade = self.version.grade if self.version else next(iter(bases), None)
        # The recipe's grade first; another grade is the caster's own choice.
        bases.sort(key=lambda item: item != self.grade)
        lots = [lot for item in bases for lot in self.stock.get(item.pk, [])]
        first = self.stock.get(self.grade.pk, [None])[0] if self.grade else None
        self.fields["base_lot"] = LotField(
            lots,
            label="Base from",
            label_of=lambda lot: f"{lot.item.name} · {lot_text(lot)}",
            empty_label=f"{self.grade.name}, first expiring first" if self.grade else "No base",
            initial=None if first is None or first.on_hand < self.plan.fresh else str(first.pk),
        )
        if self.grade:
            exact = self._planned("base", self.plan.fresh)
            shown = quantity_text(exact, "mL")
            self.fields["base"] = SaidField(
                item=self.grade,
                label="Fresh base",
                initial=shown,
                known={shown: units.from_micro(exact)},
                estimate=exact,
            )
        if self.leftover:
            use = plastic.PlasticField(
                lot=self.leftover,
                label="Of the leftover",
                planned=self._planned("use", self.plan.use),
                key=self._key,
            )
            use.explain(str(self.data.get("use", "")) if self.is_bound else use.initial)
            self.fields["use"] = use

    def _dose_fields(self, dose: batch_plan.PlannedDose) -> None:
        lots = self.stock.get(dose.item.pk, [])
        sent = self.data.get(f"lot_{dose.item.pk}")
        chosen = next((lot for lot in lots if str(lot.pk) == sent), lots[0] if lots else None)
        self.fields[f"dose_{dose.item.pk}"] = SaidField(
            item=self.items[dose.item.pk],
            lot=chosen,
            label=dose.item.name,
            initial=dose.text or f"0 {dose.item.stock_unit}",
            help_text=_ways(dose),
        )
        # The amount is for the thinned bottle, so it is drawn from that one alone.
        first = str(dose.lot.pk) if dose.thinned else None
        self.fields[f"lot_{dose.item.pk}"] = LotField(lots, label="From", initial=first)
        if len(lots) < 2:
            # Nothing to choose: one decision less for gloved hands.
            self.fields[f"lot_{dose.item.pk}"].widget = forms.HiddenInput()

    @property
    def dose_rows(self) -> list[tuple]:
        return [
            (dose, self[f"dose_{dose.item.pk}"], self[f"lot_{dose.item.pk}"])
            for dose in self.plan.doses
        ]

    @property
    def source_rows(self) -> list[tuple]:
        return [
            (self[f"source_{n}"], self[f"source_amount_{n}"]) for n in range(1, self.sources + 1)
        ]

    @property
    def extra_rows(self) -> list[tuple]:
        return [(self[f"extra_{n}"], self[f"extra_amount_{n}"]) for n in range(1, EXTRAS + 1)]

    def clean(self) -> dict:
        cleaned = super().clean()
        cleaned["extras"] = [
            extra for n in range(1, EXTRAS + 1) if (extra := self._extra(n, cleaned))
        ]
        cleaned["sources"] = [
            source for n in range(1, self.sources + 1) if (source := self._source(n, cleaned))
        ]
        if self.errors:
            return cleaned
        poured = [cleaned.get("base"), cleaned.get("use"), *(s for _lot, s in cleaned["sources"])]
        if not any(said and said.millionths for said in poured):
            self.add_error(
                "base" if self.grade else None,
                "A batch needs some base: write how much in mL, fl oz or g.",
            )
            return cleaned
        self.ask(self._doubts())
        return cleaned

    def _doubts(self) -> list[str]:
        contents, parts = self._contents(), self.parts()
        base = sum(p.quantity for p in parts if p.item.kind in batches.PLASTIC)
        melts = 1 + max((p.lot.melts for p in parts if p.lot), default=0)
        limit = batch_record.limits(batches.grades_in(contents)).melts
        found = [
            *doubts.cup(self.cup, batches.total_volume(contents)),
            *doubts.doses(self.version, contents, base),
            *doubts.melts(melts, limit),
            *on_hold.said(self._taken_from(parts)),
        ]
        if self.measured is not None and self.measured > leftovers.most_left(self.leftover.batch):
            found.append(MORE_THAN_POURED)
        return found

    def _taken_from(self, parts: list[batches.Part]) -> list[Lot]:
        """The lots that parts name; for one that names none, its first, which is on hold if all are."""
        lots = [part.lot or self._first(part.item) for part in parts]
        return [lot for lot in lots if lot]

    def _source(self, number: int, cleaned: dict) -> tuple[Lot, Said] | None:
        lot, text = cleaned.get(f"source_{number}"), cleaned.get(f"source_amount_{number}")
        if lot is None and not text:
            return None
        if lot is None:
            self.add_error(f"source_{number}", "Of which plastic? Choose it from the list.")
        elif not text:
            self.add_error(f"source_amount_{number}", "How much of it? 50 mL, 55 g, or: all of it.")
        else:
            try:
                return lot, plastic.understand(text, lot, self._key)
            except forms.ValidationError as error:
                self.add_error(f"source_amount_{number}", error)
        return None

    def _extra(self, number: int, cleaned: dict) -> tuple[Item, Said] | None:
        pk, text = cleaned.get(f"extra_{number}"), cleaned.get(f"extra_amount_{number}")
        if not pk and not text:
            return None
        if not pk:
            self.add_error(f"extra_{number}", "What was it? Choose it from the list.")
        elif not text:
            self.add_error(f"extra_amount_{number}", "How much of it? 3 drops, a pinch.")
        else:
            item = self.items[int(pk)]
            try:
                return item, understand(text, item, self._first(item))
            except forms.ValidationError as error:
                self.add_error(f"extra_amount_{number}", error)
        return None

    def _contents(self) -> dict[int, int]:
        contents: dict[int, int] = {}
        for part in self.parts():
            brought = (
                queries.contents_of(part.lot, part.quantity)
                if part.lot
                else {part.item.pk: part.quantity}
            )
            for pk, quantity in brought.items():
                contents[pk] = contents.get(pk, 0) + quantity
        return contents

    def planned_contents(self) -> dict[int, int]:
        """What the plan puts into the cup: item → millionths."""
        contents = {dose.item.pk: dose.add for dose in self.plan.doses}
        if self.grade:
            contents[self.grade.pk] = self.plan.fresh
        first = [(self.leftover, self.plan.use)] if self.leftover else []
        for lot, used in [*first, *self.plan.others]:
            for pk, quantity in queries.contents_of(lot, used).items():
                contents[pk] = contents.get(pk, 0) + quantity
        return contents

    def parts(self) -> list[batches.Part]:
        """What the batch draws, in the order in which it goes into the cup."""
        cleaned, found = self.cleaned_data, []
        if (base := cleaned.get("base")) and (base.millionths or base.guessed):
            lot = cleaned["base_lot"]
            found.append(self._part(lot.item if lot else self.grade, base, lot))
        if (use := cleaned.get("use")) and (use.millionths or use.guessed):
            found.append(self._part(self.leftover.item, use, self.leftover))
        for lot, said in cleaned["sources"]:
            if said.millionths or said.guessed:
                found.append(self._part(lot.item, said, lot))
        for dose in self.plan.doses:
            said = cleaned.get(f"dose_{dose.item.pk}")
            if said and (said.millionths or said.guessed):
                found.append(self._part(dose.item, said, cleaned[f"lot_{dose.item.pk}"]))
        for item, said in cleaned["extras"]:
            if said.millionths or said.guessed:
                found.append(self._part(item, said, None))
        return found

    def _part(self, item: Item, said: Said, lot: Lot | None) -> batches.Part:
        # Zero is drawn from no lot by itself: name one, so that it is flagged for counting.
        if lot is None and not said.millionths:
            lot = self._first(item)
        return batches.Part(item, said.millionths, lot, said=said.said, estimated=said.guessed)

    def _first(self, item: Item) -> Lot | None:
        lots = self.stock.get(item.pk)
        return lots[0] if lots else None


def _ways(dose: batch_plan.PlannedDose) -> str:
    """A dose in its stock unit and as hands measure it: “3.137 mL: ½ tsp + ⅛ tsp, or 63 drops”."""
    if not dose.add:
        return "Enough of it is in the leftover."
    exact = quantity_text(dose.draw, dose.item.stock_unit)
    if dose.thinned:
        exact += f" of {dose.lot.number}, thinned to {forms_base.number_text(dose.lot.strength)}"
    text = f"{exact}: {', or '.join(measure.text for measure in dose.measures)}."
    if dose.rough:
        text += (
            f" Off by {dose.error_percent} %: a bigger batch or a thinned bottle measures better."
        )
    return text


def _stock(items: dict[int, Item], also: list[str]) -> dict[int, list[Lot]]:
    """Each item's lots in stock and those in `also`, in the order of drawing, what is on hold last: one
    query."""
    found: dict[int, list[Lot]] = {}
    offered = Lot.objects.filter(Q(on_hand__gt=0) | Q(pk__in=also), item__in=items)
    for lot in sorted(offered.first_expiring_first(), key=lambda lot: lot.held):
        lot.item = items[lot.item_id]
        found.setdefault(lot.item_id, []).append(lot)
    return found


def _grouped(offered: list[tuple[str, str, str]]) -> list:
    groups: dict[str, list[tuple[str, str]]] = {}
    for kind, value, label in offered:
        groups.setdefault(kind, []).append((value, label))
    return [("", "Nothing else"), *groups.items()]
