"""Forms for shots: which mold in which pattern and how it is poured, and what the molds gave."""

from collections.abc import Iterable
from decimal import Decimal

from django import forms

from inventory import allocation, forms_base, units
from inventory.models import Lot, Movement
from inventory.services import on_hold
from inventory.wording import quantity_text
from production import balance, barrels, doubts
from production.forms import bench_choices
from production.models import (
    WHOLE_SHARE,
    Batch,
    Injector,
    Layer,
    Mold,
    Pattern,
    RejectReason,
    Shots,
)
from production.services import shots

MOST_SHOTS = 500
#: How far shares typed as percents may be from making a whole: 33.3 three times is one.
SHARES_SLACK = Decimal("0.2")


class ShotPlanForm(forms_base.PlainForm):
    """Which mold in which pattern, and the way of pouring; sent with GET, so that the next page
    knows the baits and the shares."""

    def __init__(self, *args, batches: list[Batch], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        molds = list(Mold.objects.filter(archived=False).prefetch_related("cavities__bait"))
        fitting, others = bench_choices.patterns(batches)
        found = {str(pattern.pk): pattern for pattern in [*fitting, *others]}
        self.fields["pattern"] = forms.TypedChoiceField(
            choices=bench_choices.pattern_groups(fitting, others), coerce=found.__getitem__
        )
        self.fields["mold"] = forms.TypedChoiceField(
            choices=[("", "Choose a mold"), *((str(m.pk), m.name) for m in molds)],
            coerce={str(mold.pk): mold for mold in molds}.__getitem__,
        )
        if len(fitting) == 1:
            self.initial.setdefault("pattern", str(fitting[0].pk))
        if len(molds) == 1:
            self.initial.setdefault("mold", str(molds[0].pk))
        self._offer_injectors()

    def _offer_injectors(self) -> None:
        injectors = {str(i.pk): i for i in Injector.objects.filter(archived=False)}
        if injectors:
            self.fields["injector"] = forms.TypedChoiceField(
                label="Poured",
                choices=[
                    ("", "By hand"),
                    *((pk, f"{i} · {i.get_barrels_display()}") for pk, i in injectors.items()),
                ],
                coerce=injectors.__getitem__,
                empty_value=None,
                required=False,
            )

    @property
    def injector_field(self):
        return self["injector"] if "injector" in self.fields else None

    @property
    def injector(self) -> Injector | None:
        return self.cleaned_data.get("injector")


class ShotsForm(forms_base.PostingForm):
    """So many fills of one mold in one pattern: the batch of each layer, and what each bait gave."""

    count = forms_base.NumberField(
        label="Shots", whole=True, at_least=1, at_most=MOST_SHOTS, initial=1
    )
    trim = forms.ChoiceField(
        label="Sprues and rejects",
        choices=[("keep", "Kept as trim"), ("throw", "Thrown away")],
        initial="keep",
        widget=forms.RadioSelect,
    )

    def __init__(
        self,
        *args,
        mold: Mold,
        pattern: Pattern,
        batches: list[Batch],
        injector: Injector | None = None,
        **kwargs,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.mold, self.pattern, self.injector = mold, pattern, injector
        self.layers = list(pattern.layers.all())
        self.cavities = list(mold.cavities.select_related("bait", "part"))
        self.flat = any(cavity.bait.flat for cavity in self.cavities)
        self._offer_batches(batches)
        if len(self.layers) > 1:
            self._offer_shares()
        for cavity in self.cavities:
            self._offer_results(cavity.bait_id)

    def _offer_batches(self, batches: list[Batch]) -> None:
        for layer in self.layers:
            fitting = [batch for batch in batches if pours(batch, layer)]
            self.fields[f"batch_{layer.position}"] = forms.TypedChoiceField(
                label=self._batch_label(layer),
                choices=[(str(b.pk), bench_choices.batch_text(b)) for b in batches],
                coerce={str(batch.pk): batch for batch in batches}.__getitem__,
                initial=str(first_full(fitting or batches).pk) if batches else None,
            )

    def _batch_label(self, layer) -> str:
        if len(self.layers) == 1:
            return "Batch"
        # Which side is up matters for flat baits only; round ones are turned as they fall.
        what = layer.get_side_display() if self.flat else str(layer.version.recipe)
        return f"Batch for the {what}" if self.flat else f"Batch of {what}"

    def _offer_shares(self) -> None:
        shares = layer_shares(self.layers, self.injector)
        for layer, share in zip(self.layers, shares, strict=True):
            self.fields[f"share_{layer.position}"] = forms_base.NumberField(
                label="Its share (%)",
                at_most=100,
                initial=forms_base.number_text(Decimal(share) * 100 / WHOLE_SHARE),
            )

    def _offer_results(self, bait: int) -> None:
        for kind, required in (("good", True), ("seconds", False)):
            self.fields[f"{kind}_{bait}"] = forms_base.NumberField(
                label=kind.capitalize(), whole=True, at_most=100_000, required=required
            )
        for number, reason in enumerate(RejectReason.values):
            self.fields[f"reject_{bait}_{number}"] = forms_base.NumberField(
                label=reason.capitalize(), whole=True, at_most=100_000, required=False
            )

    @property
    def layer_rows(self) -> list[tuple]:
        """Each layer's batch, and its share where there are several."""
        return [
            (
                self[f"batch_{layer.position}"],
                self[f"share_{layer.position}"] if len(self.layers) > 1 else None,
            )
            for layer in self.layers
        ]

    @property
    def batch_fields(self) -> list:
        return [batch for batch, _share in self.layer_rows]

    @property
    def bait_rows(self) -> list[dict]:
        """Each bait's cavities, and its fields."""
        return [
            {
                "cavity": cavity,
                "good": self[f"good_{cavity.bait_id}"],
                "seconds": self[f"seconds_{cavity.bait_id}"],
                "reasons": [self[name] for name in self._reason_names(cavity.bait_id)],
                "explained": any(self[n].value() for n in self._reason_names(cavity.bait_id)),
            }
            for cavity in self.cavities
        ]

    @property
    def up(self):
        """The layer that goes up, for a flat bait in a laminate; None where there is nothing to say."""
        if not self.flat or len(self.layers) < 2:
            return None
        return next((layer for layer in self.layers if layer.side == layer.Side.TOP), None)

    def chosen_batches(self) -> list[Batch]:
        """One for each layer, in the layers' order."""
        return [self.cleaned_data[f"batch_{layer.position}"] for layer in self.layers]

    def shares(self) -> list[int]:
        """Millionths, one for each layer; empty for a solid."""
        if len(self.layers) == 1:
            return []
        typed = [self.cleaned_data[f"share_{layer.position}"] for layer in self.layers]
        return allocation.split(WHOLE_SHARE, [units.to_micro(share) for share in typed])

    def results(self) -> list[shots.Result]:
        """What each bait gave; whatever is neither good nor second is a reject."""
        return [
            shots.Result(
                cavity.bait,
                self.cleaned_data[f"good_{cavity.bait_id}"],
                self.cleaned_data[f"seconds_{cavity.bait_id}"] or 0,
                tuple(self._reasons(cavity.bait_id).items()),
            )
            for cavity in self.cavities
        ]

    def clean(self) -> dict:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        self._check_shares()
        found = [*self._more_than_cavities(), *self._wrong_cups(), *self._wrong_injector()]
        found += self._on_hold()
        if not self.errors:
            found += self._too_little_plastic()
        if found and not self.errors:
            text = " ".join(found)
            if self.question(f"{text} Yes, really?"):
                cleaned["look_at"] = text
        return cleaned

    def _check_shares(self) -> None:
        if len(self.layers) == 1:
            return
        names = [f"share_{layer.position}" for layer in self.layers]
        total = sum(self.cleaned_data[name] for name in names)
        if abs(total - 100) > SHARES_SLACK:
            text = forms_base.number_text(total)
            self.add_error(names[-1], f"The shares make {text} %: they must make 100 % together.")

    def _more_than_cavities(self) -> list[str]:
        """Baits that the cavities can't have given; a reason for more rejects than there are is said
        at its field."""
        cleaned, too_many = self.cleaned_data, []
        for cavity in self.cavities:
            slots = cavity.count * cleaned["count"]
            kept = cleaned[f"good_{cavity.bait_id}"] + (cleaned[f"seconds_{cavity.bait_id}"] or 0)
            explained = sum(self._reasons(cavity.bait_id).values())
            rejects = max(0, slots - kept)
            if kept > slots:
                too_many.append(f"{kept} {cavity.bait} from {slots} cavities")
            if explained > rejects:
                name = next(n for n in self._reason_names(cavity.bait_id) if cleaned[n])
                self.add_error(
                    name,
                    f"{explained} rejects have a reason, but only {rejects} of {slots} cavities are "
                    "neither good nor seconds. Lower the reasons, or the good ones.",
                )
        found = [f"That's more baits than cavities: {', '.join(too_many)}."] if too_many else []
        if not self.cavities:
            found.append(f"{self.mold} has no cavities: all of it would be trim.")
        return found

    def _wrong_cups(self) -> list[str]:
        found = []
        for layer, batch in zip(self.layers, self.chosen_batches(), strict=True):
            if batch.version and not pours(batch, layer):
                found.append(
                    f"{self.pattern} takes {layer.version.recipe} there, "
                    f"and {bench_choices.short_text(batch)} is another color."
                )
        return found

    def _on_hold(self) -> list[str]:
        return on_hold.said(batch.lot for batch in self.chosen_batches())

    def _wrong_injector(self) -> list[str]:
        return doubts.barrels(self.injector, self.pattern, len(self.layers))

    def _too_little_plastic(self) -> list[str]:
        """Cups that hold less than these shots take, by more than a mold's own error explains."""
        count, found = self.cleaned_data["count"], []
        shares = self.shares() or [WHOLE_SHARE]
        needed: dict[Batch, int] = {}
        for batch, share in zip(self.chosen_batches(), shares, strict=True):
            base = shots.shot_base(self.mold, batch, count, share)
            needed[batch] = needed.get(batch, 0) + base
        for batch, base in needed.items():
            short = units.from_micro(base - batch.lot.on_hand)
            if short > balance.poured(float(units.from_micro(base)), shots=count).within:
                found.append(
                    f"{bench_choices.short_text(batch)} holds "
                    f"{quantity_text(batch.lot.on_hand, 'mL')} of base by the books, "
                    f"and these shots take {quantity_text(base, 'mL')}."
                )
        return found

    def _reason_names(self, bait: int) -> list[str]:
        return [f"reject_{bait}_{number}" for number in range(len(RejectReason.values))]

    def _reasons(self, bait: int) -> dict[str, int]:
        pairs = zip(RejectReason.values, self._reason_names(bait), strict=True)
        counts = {reason: self.cleaned_data[name] for reason, name in pairs}
        return {reason: count for reason, count in counts.items() if count}


class AmendShotsForm(ShotsForm):
    """Shots as they were written down, to be overwritten; mold and pattern stay."""

    reason = forms.CharField(
        label="What was wrong", max_length=200, help_text="Both versions stay visible."
    )

    def __init__(self, *args, shots: Shots, batches: list[Batch], **kwargs) -> None:
        self.before = shots
        super().__init__(
            *args,
            mold=shots.mold,
            pattern=shots.pattern,
            batches=batches,
            injector=shots.injector,
            **kwargs,
        )
        self.order_fields([*(name for name in self.fields if name != "reason"), "reason"])
        self.initial |= {"count": shots.count, "trim": "keep" if shots.trim_lot_id else "throw"}
        self._as_drawn()
        for row in shots.results.prefetch_related("reasons"):
            self.initial |= {f"good_{row.bait_id}": row.good, f"seconds_{row.bait_id}": row.seconds}
            given = {reason.reason: reason.count for reason in row.reasons.all()}
            pairs = zip(RejectReason.values, self._reason_names(row.bait_id), strict=True)
            self.initial |= {name: given[reason] for reason, name in pairs if reason in given}

    def _as_drawn(self) -> None:
        """Which batch each layer was drawn from, and its share, as the ledger has them."""
        batches = {batch.lot_id: batch for batch in self.before.batches.select_related("lot")}
        drawn = self.before.entry.movements.filter(role=Movement.Role.DRAWN, revalues=None)
        lines = [line for line in drawn.order_by("id") if line.lot_id in batches]
        total = [
            allocation.portion(-line.quantity, batch.total, batch.lot.made or 1)
            for line in lines
            for batch in [batches[line.lot_id]]
        ]
        whole = sum(total) or 1
        for layer, line, part in zip(self.layers, lines, total, strict=False):
            self.initial[f"batch_{layer.position}"] = str(batches[line.lot_id].pk)
            if len(self.layers) > 1:
                share = round(Decimal(part) * 100 / whole, 1)
                self.initial[f"share_{layer.position}"] = forms_base.number_text(share)

    def _wrong_injector(self) -> list[str]:
        """It was asked about when they were shot, and stays as it was."""
        return []

    def _on_hold(self) -> list[str]:
        """The plastic is in the baits already."""
        return []

    def _too_little_plastic(self) -> list[str]:
        """What these shots took already is back in the cup before they are written anew: the books
        find what is short."""
        return []


def layer_shares(layers: Iterable[Layer], injector: Injector | None) -> list[int]:
    """Millionths, one for each layer: by an injector's bores where it has two, else the pattern's."""
    return barrels.shares(
        [layer.share for layer in layers], bores_mm=barrels.bores(injector), whole=WHOLE_SHARE
    )


def pours(batch: Batch, layer: Layer) -> bool:
    """Whether the batch is of the recipe that the layer takes."""
    return bool(batch.version and batch.version.recipe_id == layer.version.recipe_id)


def first_full(batches: list[Batch]) -> Batch:
    """The first that still holds something in its cup; the last when none does."""
    return next(
        (b for b in batches if b.lot.on_hand and b.lot.form == Lot.Form.LIQUID), batches[-1]
    )
