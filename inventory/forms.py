"""The form of an item: only the facts that its kind needs."""

from decimal import Decimal
from typing import Any

from django import forms

from inventory import density, flake_sizes, stocking, temperature, units
from inventory import forms_base as base
from inventory.forms_facts import DensityField, FlakeSizeField, TemperatureField
from inventory.models import Item, Place
from inventory.services import catalog

Kind = Item.Kind
LEAST = units.from_micro(1)
#: Facts of each kind beyond those every item has.
FACTS = {
    Kind.PLASTISOL: [
        "density_g_per_ml",
        "hardness",
        "hardness_scale",
        "heat_limit_c",
        "melt_limit",
        "shelf_life_days",
        "hazards",
    ],
    Kind.COLORANT: [
        "density_g_per_ml",
        "ml_per_drop",
        "color",
        "color_kind",
        "heat_limit_c",
        "shelf_life_days",
        "hazards",
    ],
    Kind.FLAKE: [
        "density_g_per_ml",
        "g_per_tsp",
        "flake_size_in",
        "flake_shape",
        "color",
        "heat_limit_c",
        "hazards",
    ],
    Kind.ADDITIVE: [
        "density_g_per_ml",
        "ml_per_drop",
        "g_per_tsp",
        "heat_limit_c",
        "shelf_life_days",
        "hazards",
    ],
    Kind.PART: ["weight_g"],
    Kind.PACKAGING: ["weight_g", "shelf_life_days"],
    Kind.WEAR_PART: ["shelf_life_days", "hazards"],
}
DENSITY_HINTS = {
    Kind.PLASTISOL: "Lets you type pounds or grams. Soft plastisol is about 1.03; the data sheet rules.",
    Kind.COLORANT: "Needed when it is stocked in g. The data sheet rules.",
    Kind.FLAKE: "Needed when it is stocked in g. Flake of PET is about 1.37; the data sheet rules.",
    Kind.ADDITIVE: "Needed when it is stocked in g. Table salt is about 2.17; the data sheet rules.",
}
#: What a stock unit means where its name alone does not say it.
UNIT_NAMES = {
    (Kind.FLAKE, "g"): "g: you weigh it",
    (Kind.FLAKE, "mL"): "mL of spoon volume: you never weigh it",
}
#: What a typed figure makes one ask, by field; see those modules' `doubt`.
DOUBTS = {
    "density_g_per_ml": density.doubt,
    "heat_limit_c": temperature.doubt,
    "flake_size_in": flake_sizes.doubt,
}


class ItemForm(base.PlainForm):
    """Made for one kind; `facts()` is what the catalog takes."""

    name = forms.CharField(max_length=120)
    stock_unit = forms.ChoiceField(
        label="Stocked in",
        help_text="You can type amounts in any unit that turns into this one.",
    )
    density_g_per_ml = DensityField(label="Density (g/mL)", required=False)
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
    weight_g = base.NumberField(
        label="One weighs (g)",
        at_least=Decimal("0.001"),
        at_most=100_000,
        places=3,
        required=False,
        help_text="Of what is counted by the piece. Parcels and packing slips reckon with it.",
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
    flake_size_in = FlakeSizeField(
        label="Flake size", required=False, help_text="With in or mm: 0.035 in, 0.9 mm."
    )
    flake_shape = forms.ChoiceField(
        choices=[("", "not known"), *Item.FlakeShape.choices], required=False
    )
    hardness = forms.CharField(
        max_length=40, required=False, help_text="The number or word on the data sheet."
    )
    hardness_scale = forms.ChoiceField(
        label="On the scale",
        choices=[("", "not known"), *Item.HardnessScale.choices],
        required=False,
        help_text="One scale can't be turned into another.",
    )
    heat_limit_c = TemperatureField(
        label="Heat limit",
        required=False,
        help_text="With F or C, from the data sheet: 350 F, 177 °C. Above it the pour is marked.",
    )
    melt_limit = base.NumberField(
        label="Most melts",
        whole=True,
        at_least=1,
        at_most=99,
        required=False,
        help_text="Each melt spends heat stabilizer.",
    )
    shelf_life_days = base.NumberField(
        label="Keeps for (days)",
        whole=True,
        at_least=1,
        at_most=3650,
        required=False,
        help_text="From the day it comes in. A receipt then proposes when it expires.",
    )
    hazards = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=2000,
        required=False,
        help_text="In the words of its safety data sheet. They are shown with the item.",
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
        self.kind, self.item = kind, item
        kwargs.setdefault("initial", _initial(item) if item else {})
        super().__init__(*args, **kwargs)
        others = {name for names in FACTS.values() for name in names} - set(FACTS.get(kind, []))
        for name in others | (set() if item else {"archived"}):
            del self.fields[name]
        allowed = stocking.stock_units(kind)
        self.fields["stock_unit"].choices = [
            (unit, UNIT_NAMES.get((kind, unit), unit)) for unit in allowed
        ]
        self.fields["place"].queryset = Place.objects.all()
        if density := self.fields.get("density_g_per_ml"):
            density.help_text = DENSITY_HINTS[kind]
        shown = item or Item(kind=kind, stock_unit=allowed[0])
        for name in ("minimum", "target"):
            self.fields[name].item = shown

    def _clean_fields(self) -> None:
        # Minimum and target are understood by the facts typed beside them, so those come first.
        typed = Item(kind=self.kind, stock_unit=self.fields["stock_unit"].choices[0][0])
        typed.pk = self.item.pk if self.item else None
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

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("hardness_scale") and not data.get("hardness"):
            self.add_error("hardness", "Write the number or word that stands on this scale.")
        for name, doubt in DOUBTS.items():
            typed = data.get(name)
            if typed is None or (self.item and typed == getattr(self.item, name)):
                continue
            if text := doubt(typed):
                self.question(f"{text} Mend it, or tick “Yes, really” below.", at=name)
        return data

    def facts(self) -> dict[str, Any]:
        known = {name: self.cleaned_data[name] for name in self.fields if name != "really"}
        for name in ("minimum", "target"):
            known[name] = known[name].millionths if known[name] else 0
        return {"kind": self.kind, **known}


def _initial(item: Item) -> dict[str, Any]:
    known = {name: getattr(item, name) for name in catalog.FACTS if name != "kind"}
    for name in ("minimum", "target"):
        known[name] = known[name] or None
    return known
