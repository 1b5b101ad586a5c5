"""Printing labels: how many of which lot, on which sheet, from which place, as which template says."""

from collections.abc import Sequence

from django import forms

from inventory import forms_base
from inventory.models import Lot
from production import label_sheets, label_stock, printing
from production.forms import bench_choices
from production.models import LabelTemplate, Printer

MOST_LABELS = 10_000
#: Lots in sight; older ones are behind a fold.
SHOWN = 8
_TEMPLATE, _SHEET = "template:", "sheet:"


class LabelsForm(forms_base.PlainForm):
    """One field a lot for the number of its labels; empty: none."""

    look = forms.ChoiceField(label="Look and sheet")
    start = forms_base.NumberField(
        label="First free place on the sheet", whole=True, at_least=1, at_most=1000, initial=1
    )
    printer = forms.ModelChoiceField(
        Printer.objects.all(), required=False, empty_label="any: prints where it should"
    )

    def __init__(
        self, *args, kind: str, lots: Sequence[Lot], asked: Sequence[str], metric: bool, **kwargs
    ) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        self.templates = {str(t.pk): t for t in LabelTemplate.objects.filter(kind=kind)}
        # What was asked for comes first, where a thumb need not look for it.
        lots = sorted(lots, key=lambda lot: str(lot.pk) not in asked)
        self.lots = {f"lot_{lot.pk}": lot for lot in lots}
        self._first = max(SHOWN, sum(str(lot.pk) in asked for lot in lots))
        named = _names(kind, lots)
        for (name, lot), called in zip(self.lots.items(), named, strict=True):
            self.fields[name] = forms_base.NumberField(
                label=called,
                help_text=f"{lot.number} · {printing.amount_of(kind, lot)}",
                whole=True,
                at_least=0,
                at_most=MOST_LABELS,
                required=False,
            )
            if str(lot.pk) in asked:
                self.initial[name] = printing.usual_count(kind, lot)
        self.fields["look"].choices = self._looks()
        self.initial.setdefault("look", self._usual(metric))
        if not Printer.objects.exists():
            del self.fields["printer"]

    def _looks(self) -> list:
        own = [(f"{_TEMPLATE}{pk}", template.name) for pk, template in self.templates.items()]
        sheets = [
            (f"Usual parts: {heading}", [(f"{_SHEET}{key}", name) for key, name in pairs])
            for heading, pairs in label_sheets.grouped()
        ]
        return [*([("Your templates", own)] if own else []), *sheets]

    def _usual(self, metric: bool) -> str:
        for pk, template in self.templates.items():
            if template.usual:
                return f"{_TEMPLATE}{pk}"
        Kind = LabelTemplate.Kind
        key = {
            Kind.HEADER: "letter-2x2",
            Kind.LID: "a4-3x7" if metric else "letter-3x10",
            Kind.SHELF: "a4-2x7" if metric else "letter-2x7",
        }.get(self.kind, "a4-3x7" if metric else "letter-2x7")
        return f"{_SHEET}{key}"

    @property
    def lot_fields(self) -> list:
        """Those that were asked for, and the newest."""
        return [self[name] for name in self.lots][: self._first]

    @property
    def more_lot_fields(self) -> list:
        """The older ones, behind a fold."""
        return [self[name] for name in self.lots][self._first :]

    def clean(self) -> dict:
        typed = super().clean()
        if self.errors:
            return typed
        wanted = self.wanted()
        if not wanted:
            raise forms.ValidationError("Write how many labels of which lot.")
        if sum(count for _lot, count in wanted) > MOST_LABELS:
            raise forms.ValidationError(
                f"At most {MOST_LABELS:,} labels can be printed at once. Print them in parts."
            )
        try:
            typed["stock"] = self._stock(typed["look"])
        except label_stock.LabelError as error:
            self.add_error("look", str(error))
        return typed

    def wanted(self) -> list[tuple[Lot, int]]:
        """Each lot with its number of labels."""
        typed = self.cleaned_data
        return [(lot, typed[name]) for name, lot in self.lots.items() if typed.get(name)]

    def job(self) -> printing.Job:
        """What is to be printed; call it on a valid form."""
        typed = self.cleaned_data
        return printing.Job(
            kind=self.kind,
            lots=self.wanted(),
            stock=typed["stock"],
            start=typed["start"],
            template=self.templates.get(typed["look"].removeprefix(_TEMPLATE)),
            printer=typed.get("printer"),
        )

    def _stock(self, look: str) -> label_stock.Stock:
        if look.startswith(_TEMPLATE):
            return label_sheets.find(self.templates[look.removeprefix(_TEMPLATE)].stock)
        return label_sheets.find(look.removeprefix(_SHEET))


def _names(kind: str, lots: Sequence[Lot]) -> list[str]:
    """What each lot is called in the list: a leftover by its color."""
    if kind in printing.PLAIN:
        return bench_choices.leftover_names(lots)
    return [lot.item.name for lot in lots]
