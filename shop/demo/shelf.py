"""What the demo shop buys and what lay on its shelf when the books were opened.

Prices are plausible for a small buyer in US dollars; densities, drops and spoons are of the usual
order for their kind (common practice, no source). A real shop measures its own.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Sold:
    """One way to buy an item; `price` in cents, `breaks` as (from so many packs, price of each)."""

    supplier: str
    name: str
    amount: str
    unit: str
    price: int
    breaks: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Stocked:
    """`minimum` and `target` in the stock unit; `opening`: what was left, in first packs, a lot each."""

    kind: str
    name: str
    stock_unit: str
    packs: tuple[Sold, ...]
    opening: tuple[str, ...]
    minimum: int = 0
    target: int = 0
    place: str = "Rack"
    facts: dict[str, str | int] = field(default_factory=dict)


HERON, TALLOW, PINE, NINEFOLD, KETTLE = (
    "Gray Heron Supply",
    "Tallow Street Colors",
    "Pocket Pine Packaging",
    "Ninefold Rattle & Wire",
    "Blue Kettle Plastics",
)
SUPPLIERS = [
    {
        "name": HERON,
        "email": "desk@grayheron.example",
        "lead_time_days": 6,
        "shipping_minor": 1450,
        "free_shipping_minor": 15000,
    },
    {"name": TALLOW, "email": "orders@tallowstreet.example", "lead_time_days": 4},
    {"name": PINE, "lead_time_days": 9, "order_minimum_minor": 2500, "shipping_minor": 695},
    {"name": NINEFOLD, "phone": "555-0142", "lead_time_days": 12},
    {"name": KETTLE, "phone": "555-0187", "lead_time_days": 15, "shipping_minor": 1900},
]


def _plastisol(name: str, density: str, hardness: str, opening: tuple[str, ...], minimum: int):
    packs = (
        Sold(HERON, "1 gal jug", "1", "gal", 5400, ((4, 4950),)),
        Sold(HERON, "1 qt bottle", "1", "qt", 1790),
        Sold(KETTLE, "1 gal can", "1", "gal", 5050),
    )
    facts = {
        "density_g_per_ml": density,
        "hardness": hardness,
        "hardness_scale": "shore 00",
        "heat_limit_c": "182",
        "melt_limit": 5,
        "shelf_life_days": 540,
        "hazards": "Scorched, it gives off acid gas that hurts eyes and lungs. Hot, it burns deeply.",
        "notes": "Heat limit and hardness: from the supplier's data sheet.",
    }
    return Stocked("plastisol", name, "mL", packs, opening, minimum, 3 * minimum, "Floor", facts)


def _colorant(name: str, color: str, sort: str, opening: str, price: int = 1090):
    packs = (
        Sold(TALLOW, "2 fl oz bottle", "2", "fl oz", price),
        Sold(TALLOW, "4 fl oz bottle", "4", "fl oz", price * 2 - 290),
    )
    facts = {
        "color": color,
        "color_kind": sort,
        "ml_per_drop": "0.05",
        "heat_limit_c": "204",
        "shelf_life_days": 900,
        "hazards": "Stains skin. Wash off with soap and water.",
    }
    return Stocked("colorant", name, "mL", packs, (opening,), 12, 60, "Color rack", facts)


def _flake(
    name: str, color: str, size: str, spoon: str, opening: str, shape: str = "hexagon", **more: str
):
    packs = (Sold(TALLOW, "1 oz jar", "1", "oz", 640),)
    facts = {
        "color": color,
        "flake_size_in": size,
        "flake_shape": shape,
        "g_per_tsp": spoon,
        "density_g_per_ml": "1.37",
        "heat_limit_c": "190.6",
        **more,
    }
    return Stocked("flake", name, "g", packs, (opening,), 6, 28, "Color rack", facts)


def _counted(
    kind: str, name: str, sold: Sold, opening: str, minimum: int, *, weight_g: str | None = None
):
    facts = {"weight_g": weight_g} if weight_g else {}
    return Stocked(kind, name, "each", (sold,), (opening,), minimum, 3 * minimum, "Drawer", facts)


ITEMS = [
    _plastisol("Stillpool medium", "1.03", "34", ("0.3", "0.45"), 2000),
    _plastisol("Stillpool soft", "1.01", "22", ("0.4",), 900),
    _colorant("Reed green", "#5d8a2a", "dye", "0.85"),
    _colorant("Soot black", "#1c1b1a", "pigment", "0.55"),
    _colorant("Amber lamp", "#d08a1e", "dye", "0.7"),
    _colorant("Kiln red", "#a63a24", "dye", "0.9"),
    _colorant("Dusk plum", "#5a2a6a", "dye", "0.35"),
    _colorant("Fog white", "#f2f1ea", "pigment", "0.65"),
    _colorant("Shell pearl", "#e9e4da", "pearl", "0.5", 1480),
    _flake("Pepper flake", "#191919", "0.035", "3.1", "0.8"),
    _flake("Ember flake", "#c8502a", "0.025", "3.3", "0.6"),
    _flake("Glint flake", "#c9ced2", "0.015", "3.6", "0.7"),
    _flake("Violet spark", "#6a3a9a", "0.035", "3.1", "0.07"),
    _flake(
        "Copper leaf",
        "#b0682f",
        "0.062",
        "2.8",
        "0.9",
        "irregular",
        hazards="Metallic dust can catch fire. Keep it from flame and sparks.",
    ),
    Stocked(
        "additive",
        "Fine salt",
        "g",
        (Sold(HERON, "3 lb bag", "3", "lb", 780),),
        ("0.7",),
        200,
        900,
        facts={
            "density_g_per_ml": "2.165",
            "g_per_tsp": "6",
            "hazards": "Damp, it throws hot plastic. Keep it closed and dry.",
        },
    ),
    Stocked(
        "additive",
        "Boathouse scent oil",
        "mL",
        (Sold(HERON, "8 fl oz bottle", "8", "fl oz", 1350),),
        ("0.75",),
        60,
        240,
        facts={
            "ml_per_drop": "0.045",
            "density_g_per_ml": "0.96",
            "shelf_life_days": 365,
            "hazards": "May irritate skin. Slippery when spilled.",
        },
    ),
    Stocked(
        "additive",
        "Thinning oil",
        "mL",
        (Sold(HERON, "8 fl oz bottle", "8", "fl oz", 920),),
        ("0.9",),
        facts={"ml_per_drop": "0.022", "density_g_per_ml": "0.98"},
    ),
    _counted(
        "part",
        "Glass rattle 4 mm",
        Sold(NINEFOLD, "pack of 100", "100", "each", 1150),
        "0.8",
        30,
        weight_g="0.35",
    ),
    _counted(
        "part",
        "Wide hook 3/0",
        Sold(NINEFOLD, "box of 50", "50", "each", 1425),
        "0.9",
        20,
        weight_g="1.9",
    ),
    _counted(
        "packaging",
        "Bag 4 × 6 in",
        Sold(PINE, "pack of 100", "100", "each", 1380, ((3, 1190),)),
        "1.1",
        40,
        weight_g="3.2",
    ),
    _counted(
        "packaging",
        "Bag 5 × 8 in",
        Sold(PINE, "pack of 50", "50", "each", 890),
        "0.8",
        10,
        weight_g="5.1",
    ),
    _counted(
        "packaging",
        "Label 2 × 1 in",
        Sold(PINE, "roll of 250", "250", "each", 1120, ((4, 980),)),
        "0.7",
        75,
        weight_g="0.25",
    ),
    _counted(
        "packaging",
        "Header card",
        Sold(PINE, "pack of 100", "100", "each", 960),
        "0.9",
        40,
        weight_g="2.4",
    ),
    _counted("wear part", "Injector seal", Sold(HERON, "bag of 5", "5", "each", 825), "0.4", 2),
    _counted(
        "wear part", "Stirring stick", Sold(PINE, "box of 100", "100", "each", 540), "0.6", 25
    ),
    _counted(
        "wear part", "Respirator cartridge pair", Sold(HERON, "one pair", "1", "each", 1990), "2", 1
    ),
]

#: (item, name, what one holds in its stock unit).
MEASURES = [
    ("Pepper flake", "pinch", "0.2"),
    ("Pepper flake", "scoop", "1.6"),
    ("Fine salt", "scoop", "14"),
    ("Boathouse scent oil", "squirt", "0.8"),
]

#: Days that plastisol on the opening shelf still kept.
OPENED_KEEPS = 240

#: (days before today, supplier, [(item, name of the pack, how many, expires in so many days)]).
PURCHASES = [
    (
        45,
        TALLOW,
        [("Shell pearl", "2 fl oz bottle", 1, None), ("Soot black", "2 fl oz bottle", 1, None)],
    ),
    (38, HERON, [("Stillpool medium", "1 gal jug", 1, 330), ("Fine salt", "3 lb bag", 1, None)]),
    (
        30,
        TALLOW,
        [("Reed green", "2 fl oz bottle", 1, None), ("Violet spark", "1 oz jar", 1, None)],
    ),
    (24, PINE, [("Bag 4 × 6 in", "pack of 100", 1, None), ("Header card", "pack of 100", 1, None)]),
    (
        17,
        HERON,
        [
            ("Stillpool soft", "1 qt bottle", 1, 310),
            ("Boathouse scent oil", "8 fl oz bottle", 1, None),
        ],
    ),
]

#: (days before today, supplier, [(item, name of the pack, how many)]): ordered, and not here yet.
ON_ITS_WAY = (
    3,
    TALLOW,
    [("Dusk plum", "2 fl oz bottle", 1), ("Glint flake", "1 oz jar", 1)],
)

#: (days before today, item, what the scale or the eye said less the books, why).
COUNTS = [
    (31, "Stillpool medium", "-42", "Weighed the jug: some stays on its wall."),
    (12, "Label 2 × 1 in", "-3", "Three labels spoiled in the printer."),
]
