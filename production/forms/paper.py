"""A paper evening as one table, in the order of the blank pour sheet (production/blank_sheet.py)."""

from collections.abc import Sequence
from datetime import datetime

from django import forms
from django.utils import timezone

from inventory import amounts, forms_base, units
from inventory.models import Item, Lot
from production.forms import bench_amounts, bench_choices, plastic
from production.forms import paper_cells as cells
from production.forms.closing import CHECKS
from production.forms.rows import RowForm, Rows
from production.models import Mold, Pattern, RecipeVersion
from production.services import leftovers, shots
from production.services.paper_evening import Row, Shot

ROWS = 8
MOST_ROWS = 40


class Shelf:
    """What the rows choose from, read once for all of them."""

    def __init__(self, system: str) -> None:
        """`system`: the shop's units, for temperatures without their scale."""
        self.system = system
        self.versions = {
            t.value: t.version for t in bench_choices.targets().values() if t.group == "Recipes"
        }
        self.patterns = _solids()
        self.molds = {
            str(mold.pk): mold
            for mold in Mold.objects.filter(archived=False).prefetch_related("cavities__bait")
        }
        bases = Lot.objects.in_stock().filter(item__kind=Item.Kind.PLASTISOL)
        self.bases = {
            str(lot.pk): lot for lot in bases.select_related("item").first_expiring_first()
        }
        self.lots = {str(lot.pk): lot for lot in bench_choices.leftovers()}
        self.items = {
            item.name.lower(): item
            for item in Item.objects.current()
            .filter(kind__in=Item.DOSED)
            .prefetch_related("measures")
        }


def _solids() -> dict[int, Pattern]:
    """Each recipe's own solid pattern, by the recipe's id."""
    found = Pattern.objects.filter(archived=False, layers__share=1_000_000)
    rows = found.values_list("layers__version__recipe", "pk").order_by("-pk")
    patterns = Pattern.objects.prefetch_related("layers").in_bulk([pk for _recipe, pk in rows])
    return {recipe: patterns[pk] for recipe, pk in rows}


class PaperForm(forms_base.PostingForm):
    """When the evening was, and how the gear was left."""

    date = forms_base.DayField(label="Evening of")
    time = forms.TimeField(
        label="Began at",
        input_formats=["%H:%M", "%I:%M %p", "%H.%M"],
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={"invalid": "Write the time as 19:30."},
    )
    purged = forms.BooleanField(label="Injector purged", required=False)
    seals_checked = forms.BooleanField(label="Seals checked", required=False)
    molds_dry = forms.BooleanField(label="Molds dry", required=False)
    note = forms.CharField(max_length=1000, required=False)

    def clean(self) -> dict:
        cleaned = super().clean()
        day, time = cleaned.get("date"), cleaned.get("time")
        if day and time:
            began = timezone.make_aware(datetime.combine(day, time))
            if began > timezone.now():
                late = day > timezone.localdate()
                self.add_error(
                    "date" if late else "time",
                    "That is still to come: write the evening that was.",
                )
            cleaned["began"] = began
        return cleaned

    @property
    def gear(self) -> list[str]:
        return [name for name in CHECKS if self.cleaned_data.get(name)]


class PaperRow(RowForm):
    """One line of the sheet. Without a recipe it is another mold of the batch above."""

    recipe = forms.ChoiceField(label="Recipe", required=False)
    base_lot = forms.ChoiceField(label="Base from", required=False)
    base = forms.CharField(label="How much base", required=False, max_length=60)
    source = forms.ChoiceField(label="Leftover in", required=False)
    use = forms.CharField(label="How much of it", required=False, max_length=60)
    doses = forms.CharField(label="Doses", required=False, max_length=300)
    heats = forms.CharField(label="Heats: min, peak", required=False, max_length=120)
    mold = forms.ChoiceField(label="Mold", required=False)
    shots = forms_base.NumberField(
        label="Shots", whole=True, at_least=1, at_most=500, required=False
    )
    good = forms.CharField(label="Good", required=False, max_length=60)
    seconds = forms.CharField(label="Seconds", required=False, max_length=60)
    rejects = forms.CharField(label="Rejects, why", required=False, max_length=120)
    left = forms.CharField(label="Left", required=False, max_length=60)
    then = forms.ChoiceField(
        label="What became of it",
        required=False,
        choices=[
            ("", "Not said"),
            (leftovers.KEEP, "Stayed in the cup"),
            (leftovers.PUCK, "Set aside as a puck"),
            (leftovers.THROW, "Thrown away"),
        ],
    )
    reason = forms.CharField(label="Why", required=False, max_length=200)

    def __init__(self, *args, shelf: Shelf, number: int, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.shelf, self.number = shelf, number
        self.fields["recipe"].choices = [
            ("", "Same batch as above" if number else "Choose"),
            *((value, str(version.recipe)) for value, version in shelf.versions.items()),
        ]
        self.fields["base_lot"].choices = [
            ("", "First expiring first"),
            *((pk, f"{lot.item}, {lot}") for pk, lot in shelf.bases.items()),
        ]
        self.fields["mold"].choices = [
            ("", "No mold"),
            *((pk, mold.name) for pk, mold in shelf.molds.items()),
        ]
        above = [(f"row-{n}", f"What was left of row {n + 1}") for n in range(number)]
        kept = [(pk, lot.label) for pk, lot in shelf.lots.items()]
        self.fields["source"].choices = [
            ("", "None"),
            *([("This evening", above)] if above else []),
            *([("Leftovers on hand", kept)] if kept else []),
        ]
        for name in ("base", "use", "doses", "heats", "good", "seconds", "rejects", "left"):
            self.fields[name].widget.attrs["autocomplete"] = "off"

    def clean(self) -> dict:
        cleaned = super().clean()
        self.version = self.shelf.versions.get(cleaned.get("recipe", ""))
        if self.version:
            self._base(cleaned)
        elif cleaned.get("recipe") == "":
            for name in ("base", "source", "doses", "heats"):
                if cleaned.get(name):
                    self.add_error("recipe", "Which recipe? Choose it for a new batch.")
                    break
        self._source(cleaned)
        cleaned["dosed"] = self._cell("doses", cleaned, cells.doses, self.shelf.items)
        cleaned["warmed"] = self._cell("heats", cleaned, cells.warmings, self.shelf.system) or ()
        cleaned["doubt"] = "".join(f"{h.look_at} " for h in cleaned["warmed"] if h.look_at)
        self._shots(cleaned)
        self._left(cleaned)
        return cleaned

    def _base(self, cleaned: dict) -> None:
        if not cleaned.get("base"):
            self.add_error("base", "How much base? 240 mL, 8 fl oz.")
            return
        cleaned["base_ml"] = self._ml("base", cleaned["base"])
        if cleaned["base_ml"] == 0:
            self.add_error("base", "A batch needs some base.")

    def _ml(self, name: str, text: str) -> int | None:
        """Millionths of a mL of a volume, or of a weight of the recipe's base; said at its field."""
        try:
            amount = amounts.parse(text, default_unit="mL")
            grade = self.version.grade if self.version else None
            density = grade.density_g_per_ml if grade else None
            value = units.convert(amount.value, amount.unit, "mL", density_g_per_ml=density)
        except (amounts.AmountError, units.UnitsError) as error:
            self.add_error(name, str(error))
            return None
        if value > bench_amounts.MOST:
            self.add_error(name, "That is more than 100 L. Check the point and the zeros.")
            return None
        return units.to_micro(value)

    def _source(self, cleaned: dict) -> None:
        source, use = cleaned.get("source"), cleaned.get("use")
        if use and not source:
            self.add_error("source", "Of which leftover? Choose it from the list.")
        if not source:
            return
        if source.startswith("row-"):
            cleaned["from"] = int(source.removeprefix("row-"))
            if use:
                cleaned["use_ml"] = self._ml("use", use)
        else:
            cleaned["from"] = lot = self.shelf.lots[source]
            if use:
                cleaned["use_ml"] = self._of_lot(lot, use)

    def _of_lot(self, lot: Lot, text: str) -> int | None:
        try:
            return plastic.understand(text, lot).millionths
        except forms.ValidationError as error:
            self.add_error("use", error)
            return None

    def _cell(self, name: str, cleaned: dict, read, *facts):
        """What a cell of several things says; None when it can't be read, which is said at it."""
        try:
            return read(cleaned.get(name) or "", *facts)
        except forms.ValidationError as error:
            self.add_error(name, error)
            return None

    def _shots(self, cleaned: dict) -> None:
        mold, count = self.shelf.molds.get(cleaned.get("mold") or ""), cleaned.get("shots")
        if mold is None:
            for name in ("shots", "good"):
                if cleaned.get(name):
                    self.add_error("mold", "Of which mold?")
                    break
            return
        if not count:
            if "shots" not in self.errors:
                self.add_error("shots", "How many shots of it?")
            return
        cavities = list(mold.cavities.all())
        good = self._cell("good", cleaned, cells.counts, len(cavities))
        seconds = [0] * len(cavities)
        if cleaned.get("seconds"):
            seconds = self._cell("seconds", cleaned, cells.counts, len(cavities))
        reasons = self._cell("rejects", cleaned, cells.rejects)
        if good is None or seconds is None or reasons is None:
            return
        cleaned["mold_of"] = mold
        cleaned["doubt"] += "".join(
            f"{g + s} {c.bait} from {c.count * count} cavities. "
            for c, g, s in zip(cavities, good, seconds, strict=True)
            if g + s > c.count * count
        )
        spare = sum(c.count * count for c in cavities) - sum(good) - sum(seconds)
        if sum(reasons.values()) > max(0, spare):
            self.add_error(
                "rejects", f"Only {max(0, spare)} cavities are neither good nor seconds."
            )
            return
        cleaned["results"] = tuple(
            # Nobody wrote down which bait a reject was: the first of the mold stands for it.
            shots.Result(c.bait, g, s, tuple(reasons.items()) if not index else ())
            for index, (c, g, s) in enumerate(zip(cavities, good, seconds, strict=True))
        )

    def _left(self, cleaned: dict) -> None:
        if cleaned.get("left"):
            cleaned["left_ml"] = self._ml("left", cleaned["left"])
        if cleaned.get("then") == leftovers.THROW and not cleaned.get("reason"):
            self.add_error("reason", "Say why it was thrown away.")


class PaperRows(Rows):
    """The lines of the sheet, each knowing its place."""

    def __init__(self, data, *, count: int, shelf: Shelf) -> None:
        self.forms = [
            PaperRow(data, prefix=f"row-{n}", shelf=shelf, number=n) for n in range(count)
        ]
        self.shown, self.shelf = count, shelf

    def is_valid(self) -> bool:
        valid = super().is_valid()
        if valid and not self.filled:
            self.forms[0].add_error(None, "Write at least one batch.")
            return False
        return valid and self._joined()

    def _joined(self) -> bool:
        """Every line without a recipe has a batch above it, every named row is a batch above."""
        starts: set[int] = set()
        above: RecipeVersion | None = None
        for form in self.filled:
            if form.version:
                above = form.version
                starts.add(form.number)
            elif above is None:
                form.add_error("recipe", "Which recipe? There is no batch above.")
            source = form.cleaned_data.get("from")
            if isinstance(source, int) and source not in starts - {form.number}:
                form.add_error("source", f"Row {source + 1} is no batch of its own.")
            if "results" in form.cleaned_data and above and above.recipe_id not in self._solid:
                form.add_error("recipe", f"{above.recipe} has no pattern of its own to shoot.")
        return not self.has_errors

    @property
    def _solid(self) -> dict[int, Pattern]:
        return self.shelf.patterns

    @property
    def doubts(self) -> str:
        """What can hardly be, row by row."""
        return " ".join(
            f"Row {form.number + 1}: {form.cleaned_data['doubt'].strip()}"
            for form in self.filled
            if form.cleaned_data.get("doubt")
        )

    def rows(self) -> Sequence[Row]:
        """The batches of the sheet; call it on valid lines."""
        found: list[dict] = []
        places: dict[int, int] = {}
        for form in self.filled:
            cleaned = form.cleaned_data
            if form.version:
                places[form.number] = len(found)
                source = cleaned.get("from")
                found.append(
                    {
                        "version": form.version,
                        "base": cleaned["base_ml"],
                        "source": places[source] if isinstance(source, int) else source,
                        "use": cleaned.get("use_ml"),
                        "base_lot": self.shelf.bases.get(cleaned.get("base_lot", "")),
                        "doses": cleaned["dosed"],
                        "heats": cleaned["warmed"],
                        "shots": (),
                    }
                )
            batch = found[-1]
            if "results" in cleaned:
                pattern = self._solid[batch["version"].recipe_id]
                shot = Shot(cleaned["mold_of"], pattern, cleaned["shots"], cleaned["results"])
                batch["shots"] += (shot,)
            if cleaned.get("left") or cleaned.get("then"):
                batch |= {
                    "left": cleaned.get("left_ml"),
                    "then": cleaned.get("then", ""),
                    "reason": cleaned.get("reason", ""),
                }
            if cleaned.get("doubt"):
                batch["look_at"] = cleaned["doubt"].strip()
        return [Row(**facts) for facts in found]
