"""“Add more”: one more thing into a batch that stands in its cup, with or without a figure."""

from django import forms

from inventory import queries
from inventory.models import Item, Lot
from inventory.services import on_hold
from production import batch_record, doubts
from production.forms import bench_choices, plastic
from production.forms.asking import AskingForm
from production.forms.bench_amounts import Said, understand
from production.models import Batch
from production.services import batches

#: What is kept as said when no amount was written.
A_BIT = "a bit"
FORGOTTEN, NEXT = "forgotten", "next"


class AdditionForm(AskingForm):
    """One item or leftover and how much of it. After the first shot it asks what it is."""

    what = forms.ChoiceField(label="What", error_messages={"required": "Choose what went in."})
    amount = forms.CharField(
        label="How much",
        max_length=60,
        required=False,
        help_text="3 drops, ¼ tsp, 30 mL. Empty: a bit; the bottle is then to be counted.",
    )

    def __init__(self, *args, batch: Batch, used: bool, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.batch, self.used = batch, used
        self.items = {
            f"item-{item.pk}": item
            for item in Item.objects.current()
            .filter(kind__in=[*Item.DOSED, Item.Kind.PLASTISOL])
            .prefetch_related("measures")
        }
        sent = str(self.data.get("what", ""))
        poured = bench_choices.leftovers(sent.removeprefix("lot-"))
        self.poured = {f"lot-{lot.pk}": lot for lot in poured if lot.pk != batch.lot_id}
        self.fields["what"].choices = self._choices()
        self.fields["amount"].widget.attrs["autocomplete"] = "off"
        if self.poured:
            self.fields["amount"].help_text += f" {plastic.HOW_MUCH}"
            self._explain(sent)
        if used:
            self.fields["when"] = forms.ChoiceField(
                label="This batch was poured from already. Is it",
                choices=[
                    (FORGOTTEN, "forgotten earlier: it went in before the first shot"),
                    (NEXT, "the next color: what is left becomes a new batch with it"),
                ],
                widget=forms.RadioSelect,
                error_messages={"required": "Say which: the baits already made depend on it."},
            )

    def _explain(self, sent: str) -> None:
        """Says what an amount of poured plastic is taken for, once it is known of which."""
        lot, text = self.poured.get(sent), str(self.data.get("amount", ""))
        try:
            said = plastic.understand(text, lot, self.data.get("key", "")) if lot and text else None
        except forms.ValidationError:
            return
        amount = self.fields["amount"]
        amount.help_text = f"{amount.help_text} {plastic.understood(said)}".strip()

    def _choices(self) -> list:
        version = self.batch.version
        own = {dose.item_id for dose in version.doses.all()} if version else set()
        groups: dict[str, list[tuple[str, str]]] = {}
        for value, item in self.items.items():
            name = "In this recipe" if item.pk in own else item.get_kind_display()
            groups.setdefault(name, []).append((value, item.name))
        first = {"In this recipe": groups.pop("In this recipe")} if own & self._pks() else {}
        poured = {"poured plastic": [(value, lot.label) for value, lot in self.poured.items()]}
        return [("", "Choose"), *first.items(), *groups.items(), *poured.items()]

    def _pks(self) -> set[int]:
        return {item.pk for item in self.items.values()}

    def clean(self) -> dict:
        cleaned = super().clean()
        if not cleaned.get("what"):
            return cleaned
        try:
            cleaned["part"] = self._part(cleaned["what"], cleaned.get("amount") or A_BIT)
        except forms.ValidationError as error:
            self.add_error("amount", error)
        if not self.errors and not self.used:
            self.ask(self._doubts(cleaned["part"]))
        return cleaned

    def _part(self, what: str, text: str) -> batches.Part:
        if lot := self.poured.get(what):
            said = plastic.understand(text, lot, self.cleaned_data.get("key", ""))
            return _said(lot.item, said, lot)
        item = self.items[what]
        lot = self._first(item)
        said = understand(text, item, lot)
        # Zero is drawn from no lot by itself: name one, so that it is flagged for counting.
        return _said(item, said, None if said.millionths else lot)

    def _first(self, item: Item) -> Lot | None:
        """The bottle in use: one on hold only when there is no other."""
        stocked = item.lots.in_stock().select_related("item").first_expiring_first()
        return next(iter(sorted(stocked, key=lambda lot: lot.held)), None)

    def _doubts(self, part: batches.Part) -> list[str]:
        contents = queries.composition(self.batch.lot)
        brought = (
            queries.contents_of(part.lot, part.quantity)
            if part.lot
            else {part.item.pk: part.quantity}
        )
        for pk, quantity in brought.items():
            contents[pk] = contents.get(pk, 0) + quantity
        base = self.batch.lot.made + part.quantity * (part.item.kind in batches.PLASTIC)
        melts = max(self.batch.lot.melts, part.lot.melts + 1 if part.lot else 1)
        limit = batch_record.limits(batches.grades_in(contents)).melts
        return [
            *doubts.cup(self.batch.cup, batches.total_volume(contents)),
            *doubts.doses(self.batch.version, contents, base),
            *doubts.melts(melts, limit),
            *on_hold.said(lot for lot in (part.lot or self._first(part.item),) if lot),
        ]


def _said(item: Item, said: Said, lot: Lot | None) -> batches.Part:
    return batches.Part(item, said.millionths, lot, said=said.said, estimated=said.guessed)
