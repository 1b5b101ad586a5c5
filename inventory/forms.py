"""The form of an item: only the facts that its kind needs."""

from typing import Any

from django import forms

from inventory import forms_base as base
from inventory import stocking, units
from inventory.models import Item, Place
from inventory.services import catalog

Kind = Item.Kind
LEAST = units.from_micro(1)
#: Facts of each kind beyond those every item has.
FACTS = {
    Kind.PLASTISOL: ["density_g_per_ml", "hardness", "heat_limit_c", "melt_limit"],
    Kind.COLORANT: ["density_g_per_ml", "ml_per_drop", "color", "color_kind"],
    Kind.FLAKE: ["density_g_per_ml", "g_per_tsp", "flake_size_in", "color"],
    Kind.ADDITIVE: ["density_g_per_ml", "ml_per_drop", "g_per_tsp"],
}
DENSITY_HINTS = {
    Kind.PLASTISOL: "Lets you type pounds or grams. Soft plastisol is about 1.03; the data sheet rules.",
    Kind.COLORANT: "Needed when it is stocked in g. The data sheet rules.",
    Kind.FLAKE: "Needed when it is stocked in g. Flake of PET is about 1.37; the data sheet rules.",
    Kind.ADDITIVE: "Needed when it is stocked in g. Table salt is about 2.17; the data sheet rules.",
}


class ItemForm(base.PlainForm):
    """Made for one kind; `facts()` is what the catalog takes."""

    name = forms.CharField(max_length=120)
    stock_unit = forms.ChoiceField(
        label="Stocked in",
        help_text="You can type amounts in any unit that turns into this one.",
    )
    density_g_per_ml = base.NumberField(
        label="Density (g/mL)", at_least=LEAST, at_most=25, places=6, required=False
    )
    ml_per_drop = base.NumberField(
        label="mL per drop",
        at_least=LEAST,
        at_most=1,
        places=6,
        required=False,
        help_text="Count the drops in 1 mL and divide, or leave it out. Oily drops are small, "
        "about 0.02 to 0.05 mL. An estimate: weighing is surer.",
    )
    g_per_tsp = base.NumberField(
        label="Grams per level teaspoon",
        at_least=LEAST,
        at_most=150,
        places=6,
        required=False,
        help_text="Weigh one level teaspoon. Scooped flake holds air, so density can't tell.",
    )
    color = forms.RegexField(
        r"^#[0-9a-fA-F]{6}$",
        required=False,
        help_text="As # and six hex digits: #3a5f2b. It draws the chip.",
        error_messages={"invalid": "Write the color as # and six hex digits: #3a5f2b."},
    )
    color_kind = forms.ChoiceField(
        label="It colors as", choices=[("", "not known"), *Item.ColorKind.choices], required=False
    )
    flake_size_in = base.NumberField(
        label="Flake size (in)", at_least=LEAST, at_most=1, places=4, required=False
    )
    hardness = forms.CharField(
        max_length=40, required=False, help_text="Number with its scale, from the data sheet."
    )
    heat_limit_c = base.NumberField(
        label="Heat limit (°C)",
        whole=True,
        at_most=400,
        required=False,
        help_text="From the data sheet: above it the pour is marked.",
    )
    melt_limit = base.NumberField(
        label="Most melts",
        whole=True,
        at_least=1,
        at_most=99,
        required=False,
        help_text="Each melt spends heat stabilizer.",
    )
    minimum = base.AmountField(
        required=False,
        allow_zero=True,
        help_text="At this amount it counts as low: 8 fl oz, 50 g. Empty: never.",
    )
    target = base.AmountField(
        required=False, allow_zero=True, help_text="Buy up to this amount when it is low."
    )
    place = forms.ModelChoiceField(Place.objects.none(), required=False, empty_label="no place")
    notes = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    archived = forms.BooleanField(
        required=False,
        label="Archived",
        help_text="Hidden from lists and buying; its history stays.",
    )

    def __init__(self, *args, kind: str, item: Item | None = None, **kwargs) -> None:
        self.kind = kind
        kwargs.setdefault("initial", _initial(item) if item else {})
        super().__init__(*args, **kwargs)
        wanted = {fact for facts in FACTS.values() for fact in facts} - set(FACTS.get(kind, []))
        for name in wanted | (set() if item else {"archived"}):
            del self.fields[name]
        allowed = stocking.stock_units(kind)
        self.fields["stock_unit"].choices = [(unit, unit) for unit in allowed]
        self.fields["place"].queryset = Place.objects.all()
        if density := self.fields.get("density_g_per_ml"):
            density.help_text = DENSITY_HINTS[kind]
        shown = item or Item(kind=kind, stock_unit=allowed[0])
        for name in ("minimum", "target"):
            self.fields[name].item = shown

    def _clean_fields(self) -> None:
        # Minimum and target are understood by the facts typed beside them, so those come first.
        typed = Item(kind=self.kind, stock_unit=self.fields["stock_unit"].choices[0][0])
        for name in ("name", "stock_unit", "density_g_per_ml", "ml_per_drop", "g_per_tsp"):
            field = self.fields.get(name)
            if field is None:
                continue
            try:
                setattr(typed, name, field.clean(self[name].data))
            except forms.ValidationError:
                continue
        for name in ("minimum", "target"):
            self.fields[name].item = typed
        super()._clean_fields()

    def facts(self) -> dict[str, Any]:
        facts = {name: self.cleaned_data[name] for name in self.fields}
        for name in ("minimum", "target"):
            facts[name] = facts[name].millionths if facts[name] else 0
        return {"kind": self.kind, **facts}


def _initial(item: Item) -> dict[str, Any]:
    facts = {name: getattr(item, name) for name in catalog.FACTS if name != "kind"}
    for name in ("minimum", "target"):
        facts[name] = facts[name] or None
    return facts
