"""The demo shop's cups, molds, recipes and products."""

from production import gtin

#: (number, empty weight in g, least mL, largest mL).
CUPS = [(1, "118.4", 30, 250), (2, "117.9", 30, 250), (3, "164.2", 50, 420), (4, "165", 50, 420)]

#: (name, barrels, mL each, mL that stay behind in each, bores in mm where they differ, notes).
INJECTORS = [
    ("Porch single", 1, "120", "4", (), "Oil the seal before every evening."),
    ("Porch twin", 2, "90", "3.5", ("32", "26"), "The wide barrel takes the back."),
]
#: (mold, the owner looks at it after so many shots).
SERVICE = [("Reed Eel eight", 40), ("Stump Craw four", 200)]
#: Cold volume of 100 mL read hot, as measured in the story; the pocket scale's step in g.
HOT_FACTOR, SCALE_STEP_G = "0.905", "0.01"

#: (name, length in mm, flat).
BAITS = [
    ("Reed Eel", "101.6", False),
    ("Slip Minnow", "76.2", True),
    ("Stump Craw", "88.9", False),
    ("Pond Grub", "50.8", False),
    ("Creek Wisp", "63.5", False),
]

#: (name, one shot in mL, minutes per cycle, [(bait, cavities, mL each)], what lies in each, notes).
MOLDS = [
    ("Reed Eel eight", "54", "7", [("Reed Eel", 8, "5.2")], "", ""),
    ("Reed Eel four", "28", "6", [("Reed Eel", 4, "5.2")], "", ""),
    ("Slip Minnow six", "38", "6", [("Slip Minnow", 6, "4.6")], "", ""),
    (
        "Stump Craw four",
        "46",
        "8",
        [("Stump Craw", 4, "8.4")],
        "",
        "Warm it first: the claws fill late.",
    ),
    ("Grub and Wisp", "30", "5", [("Pond Grub", 4, "2.2"), ("Creek Wisp", 4, "3")], "", ""),
    (
        "Stump Craw rigged two",
        "25",
        "9",
        [("Stump Craw", 2, "8.2")],
        "Wide hook 3/0",
        "Hook eyes toward the sprue.",
    ),
]

MEDIUM, SOFT = "Stillpool medium", "Stillpool soft"
#: (name, grade, doses for so much base, [(item, amount, unit)], notes).
RECIPES = [
    ("Sedge Mist", MEDIUM, ("100", "mL"), [("Reed green", "8", "drop")], "The light one of three."),
    (
        "Marsh Lantern",
        MEDIUM,
        ("1", "US cup"),
        [("Reed green", "43", "drop"), ("Pepper flake", "1", "g")],
        "The medium one of three.",
    ),
    (
        "Deep Sedge",
        MEDIUM,
        ("100", "mL"),
        [("Reed green", "36", "drop"), ("Pepper flake", "0.5", "g")],
        "The heavy one of three.",
    ),
    (
        "Midnight Sedge",
        MEDIUM,
        ("100", "mL"),
        [("Reed green", "36", "drop"), ("Soot black", "16", "drop"), ("Pepper flake", "0.5", "g")],
        "Where green leftovers end.",
    ),
    (
        "Fog Bell",
        MEDIUM,
        ("1", "US cup"),
        [("Fog white", "28", "drop"), ("Shell pearl", "24", "drop"), ("Glint flake", "0.8", "g")],
        "Only into a clean cup.",
    ),
    (
        "Amber Ferry",
        MEDIUM,
        ("100", "mL"),
        [("Amber lamp", "16", "drop"), ("Copper leaf", "0.4", "g")],
        "",
    ),
    (
        "Brick Kiln",
        MEDIUM,
        ("100", "mL"),
        [
            ("Amber lamp", "16", "drop"),
            ("Kiln red", "20", "drop"),
            ("Copper leaf", "0.5", "g"),
            ("Ember flake", "0.3", "g"),
        ],
        "Takes what is left of Amber Ferry.",
    ),
    (
        "Kettle Smoke",
        MEDIUM,
        ("1", "US cup"),
        [("Soot black", "12", "drop"), ("Pepper flake", "1.2", "g")],
        "",
    ),
    (
        "Plum Lockhouse",
        SOFT,
        ("100", "mL"),
        [("Dusk plum", "20", "drop"), ("Violet spark", "0.4", "g"), ("Fine salt", "1", "tsp")],
        "Salt bone dry, in small spoons.",
    ),
    (
        "Night Ferry",
        SOFT,
        ("100", "mL"),
        [
            ("Dusk plum", "22", "drop"),
            ("Soot black", "20", "drop"),
            ("Violet spark", "0.4", "g"),
            ("Fine salt", "1", "tsp"),
        ],
        "",
    ),
]
#: (days before today, recipe, doses, notes): same base, next version.
REVISION = (
    37,
    "Marsh Lantern",
    ("1", "US cup"),
    [("Reed green", "47", "drop"), ("Pepper flake", "1", "g")],
    "A little greener: the first bags looked pale in daylight.",
)

#: (name, [(recipe, percent)] from the back down).
LAMINATES = [
    ("Sedge over Fog", [("Deep Sedge", 50), ("Fog Bell", 50)]),
    ("Kettle over Amber", [("Kettle Smoke", 40), ("Amber Ferry", 60)]),
]

_PLAIN = [("Bag 4 × 6 in", "1"), ("Label 2 × 1 in", "1"), ("Header card", "1")]
_SCENTED = [*_PLAIN, ("Boathouse scent oil", "0.8")]
_RATTLING = [*_SCENTED, ("Glass rattle 4 mm", "5")]
_BOX = [("Bag 5 × 8 in", "1"), ("Label 2 × 1 in", "2"), ("Boathouse scent oil", "0.8")]


def _in_store(number: int) -> str:
    """A number for use inside one shop: GS1 keeps those that begin with 2 for nobody (GS1 General
    Specifications, restricted circulation numbers)."""
    digits = f"20{number:010d}"
    return f"{digits}{gtin.check_digit(digits)}"


#: (name, [(bait, pattern, count)], packaging, price in cents, barcode, bags that should stand ready).
#: Bagged in this order.
PRODUCTS = [
    (
        "Reed Eel Marsh Lantern, 8",
        [("Reed Eel", "Marsh Lantern", 8)],
        _SCENTED,
        649,
        _in_store(101),
    ),
    ("Reed Eel Deep Sedge, 8", [("Reed Eel", "Deep Sedge", 8)], _SCENTED, 649, _in_store(102), 9),
    (
        "Reed Eel Plum Lockhouse, 8",
        [("Reed Eel", "Plum Lockhouse", 8)],
        _SCENTED,
        679,
        _in_store(103),
    ),
    ("Reed Eel Night Ferry, 8", [("Reed Eel", "Night Ferry", 8)], _SCENTED, 679, ""),
    ("Slip Minnow Fog Bell, 6", [("Slip Minnow", "Fog Bell", 6)], _PLAIN, 599, _in_store(201)),
    (
        "Slip Minnow Sedge over Fog, 6",
        [("Slip Minnow", "Sedge over Fog", 6)],
        _PLAIN,
        749,
        _in_store(202),
    ),
    ("Stump Craw Brick Kiln, 5", [("Stump Craw", "Brick Kiln", 5)], _SCENTED, 629, ""),
    (
        "Stump Craw Midnight Sedge with rattles, 5",
        [("Stump Craw", "Midnight Sedge", 5)],
        _RATTLING,
        729,
        _in_store(302),
        8,
    ),
    (
        "Stump Craw Kettle over Amber, 5",
        [("Stump Craw", "Kettle over Amber", 5)],
        _SCENTED,
        749,
        "",
    ),
    (
        "Creek box, 16",
        [
            ("Creek Wisp", "Amber Ferry", 4),
            ("Creek Wisp", "Sedge Mist", 4),
            ("Pond Grub", "Amber Ferry", 4),
            ("Pond Grub", "Sedge Mist", 4),
        ],
        _BOX,
        1099,
        _in_store(401),
    ),
]
