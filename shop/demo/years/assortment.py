"""Colors and bags that the years bring beside those of the small demo, and how they rise and fall."""

from dataclasses import dataclass

from shop.demo.catalog import _PLAIN, _SCENTED, MEDIUM, SOFT

#: As in `shop.demo.catalog`: (name, grade, doses for so much base, [(item, amount, unit)], notes).
RECIPES = [
    (
        "Cattail Dusk",
        MEDIUM,
        ("100", "mL"),
        [("Reed green", "14", "drop"), ("Amber lamp", "10", "drop")],
        "",
    ),
    (
        "Rust Sluice",
        MEDIUM,
        ("100", "mL"),
        [("Amber lamp", "18", "drop"), ("Kiln red", "8", "drop"), ("Copper leaf", "0.5", "g")],
        "",
    ),
    (
        "Smelt Glass",
        MEDIUM,
        ("100", "mL"),
        [("Shell pearl", "14", "drop"), ("Glint flake", "0.5", "g")],
        "Only into a clean cup.",
    ),
    (
        "Coal Ferry",
        MEDIUM,
        ("100", "mL"),
        [("Soot black", "26", "drop"), ("Ember flake", "0.4", "g"), ("Pepper flake", "0.5", "g")],
        "Takes any dark leftover.",
    ),
    (
        "Heather Bank",
        SOFT,
        ("100", "mL"),
        [("Dusk plum", "9", "drop"), ("Violet spark", "0.4", "g")],
        "",
    ),
    (
        "Tar Lantern",
        SOFT,
        ("100", "mL"),
        [("Dusk plum", "24", "drop"), ("Soot black", "34", "drop"), ("Violet spark", "0.5", "g")],
        "",
    ),
]

#: As in `shop.demo.catalog`.
PRODUCTS = [
    ("Reed Eel Cattail Dusk, 8", [("Reed Eel", "Cattail Dusk", 8)], _SCENTED, 669, ""),
    ("Reed Eel Coal Ferry, 8", [("Reed Eel", "Coal Ferry", 8)], _SCENTED, 669, ""),
    ("Slip Minnow Smelt Glass, 6", [("Slip Minnow", "Smelt Glass", 6)], _PLAIN, 649, ""),
    ("Stump Craw Rust Sluice, 5", [("Stump Craw", "Rust Sluice", 5)], _SCENTED, 669, ""),
    ("Reed Eel Heather Bank, 8", [("Reed Eel", "Heather Bank", 8)], _SCENTED, 699, ""),
    ("Stump Craw Tar Lantern, 5", [("Stump Craw", "Tar Lantern", 5)], _SCENTED, 699, ""),
]


@dataclass(frozen=True)
class Life:
    """When a bag appears, sells best and how long it lasts, in years from the first day; how much of it is
    asked for at its best, in bags of a usual day."""

    bags: float
    rises: float = -1
    peak: float = 0
    lasts: float = 30


LIVES = {
    "Reed Eel Marsh Lantern, 8": Life(1.9),
    "Reed Eel Deep Sedge, 8": Life(1.4),
    "Reed Eel Plum Lockhouse, 8": Life(1.1, lasts=6),
    "Reed Eel Night Ferry, 8": Life(0.9, peak=3),
    "Slip Minnow Fog Bell, 6": Life(1.3, lasts=8),
    "Slip Minnow Sedge over Fog, 6": Life(0.8, peak=4),
    "Stump Craw Brick Kiln, 5": Life(1.2, lasts=4),
    "Stump Craw Midnight Sedge with rattles, 5": Life(1.2, peak=2),
    "Stump Craw Kettle over Amber, 5": Life(0.7, lasts=5),
    "Creek box, 16": Life(0.6),
    "Reed Eel Cattail Dusk, 8": Life(1.5, rises=1.5, peak=3, lasts=3),
    "Reed Eel Coal Ferry, 8": Life(1.2, rises=2.7, peak=6, lasts=9),
    "Slip Minnow Smelt Glass, 6": Life(1.4, rises=3.5, peak=5, lasts=4),
    "Stump Craw Rust Sluice, 5": Life(1.3, rises=4.4, peak=5.2, lasts=2),
    "Reed Eel Heather Bank, 8": Life(1.3, rises=5.5, peak=8, lasts=8),
    "Stump Craw Tar Lantern, 5": Life(1.2, rises=7.1, peak=9, lasts=5),
}
