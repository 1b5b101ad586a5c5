"""The demo shop's evenings: what was mixed, what was shot, what became of the rest.

What is left on the shelf goes into a batch by itself where its color allows: light before dark.
"""

from dataclasses import dataclass

REEL8, REEL4, SLIP, CRAW, CREEK = (
    "Reed Eel eight",
    "Reed Eel four",
    "Slip Minnow six",
    "Stump Craw four",
    "Grub and Wisp",
)


@dataclass(frozen=True)
class Mixed:
    """One batch: shots as (mold, count), and `spare` mL beyond them.

    `then`: what becomes of the rest at the end of the evening; by default a puck when there is enough
    of it, else it is thrown away. `pinch` names something that went in
    by feel. `mistyped`: its first shots were entered wrong, undone, and entered again."""

    recipe: str
    shots: tuple[tuple[str, int], ...] = ()
    spare: int = 12
    then: str = ""
    why: str = "The last of the cup."
    pinch: str = ""
    mistyped: bool = False


@dataclass(frozen=True)
class Layered:
    """A laminate: its layers' batches from the back down, hot together."""

    pattern: str
    shots: tuple[tuple[str, int], ...]
    layers: tuple[Mixed, ...]


@dataclass(frozen=True)
class Evening:
    days_ago: int
    mixes: tuple[Mixed | Layered, ...]
    note: str = ""


def _mist(creek: int, spare: int) -> Mixed:
    return Mixed("Sedge Mist", ((CREEK, creek),), spare, "puck")


EVENINGS = [
    Evening(57, (_mist(4, 60), Mixed("Marsh Lantern", ((REEL8, 4),), 15))),
    Evening(
        54,
        (
            Mixed("Fog Bell", ((SLIP, 5),), 12),
            Mixed("Kettle Smoke", ((CRAW, 3),), 45, "puck", pinch="Pepper flake"),
        ),
    ),
    Evening(50, (Mixed("Amber Ferry", ((CREEK, 5),), 55), Mixed("Brick Kiln", ((CRAW, 4),)))),
    Evening(
        47,
        (
            _mist(3, 70),
            Mixed("Marsh Lantern", ((REEL8, 3),), 60),
            Mixed("Deep Sedge", ((REEL8, 3),), 45),
            Mixed("Midnight Sedge", ((CRAW, 4),), 10),
        ),
        "Four colors out of one cup: mist, lantern, sedge, midnight.",
    ),
    Evening(
        43, (Mixed("Plum Lockhouse", ((REEL8, 3),), 40), Mixed("Night Ferry", ((REEL8, 3),), 10))
    ),
    Evening(
        40,
        (
            Layered(
                "Sedge over Fog",
                ((SLIP, 5),),
                (
                    Mixed("Deep Sedge", ((REEL8, 1),), 35, "puck"),
                    Mixed("Fog Bell", ((SLIP, 2),), 10),
                ),
            ),
        ),
        "First evening with the two-barrel injector. Tails a little blended.",
    ),
    Evening(
        36,
        (
            _mist(2, 50),
            Mixed("Marsh Lantern", ((REEL8, 4),), 55, mistyped=True),
            Mixed("Midnight Sedge", ((CRAW, 3),), 10),
        ),
    ),
    Evening(
        33,
        (
            Mixed("Plum Lockhouse", ((REEL8, 3), (REEL4, 2)), 30),
            Mixed("Night Ferry", ((REEL8, 2),), 10),
        ),
    ),
    Evening(
        29,
        (
            Mixed("Amber Ferry", ((CREEK, 4),), 60),
            Mixed(
                "Brick Kiln",
                ((CRAW, 5),),
                48,
                "throw",
                why="Scorched: the cup stood on the plate too long. Aired the shed and left.",
            ),
        ),
    ),
    Evening(
        26,
        (
            Mixed("Fog Bell", ((SLIP, 5),), 10),
            Mixed("Marsh Lantern", ((REEL8, 4),), 70),
            Mixed("Deep Sedge", ((REEL8, 3),), 10),
        ),
    ),
    Evening(
        22,
        (
            Layered(
                "Kettle over Amber",
                ((CRAW, 4),),
                (
                    Mixed("Kettle Smoke", (), 40, "puck"),
                    Mixed("Amber Ferry", ((CREEK, 4),), 30, "puck"),
                ),
            ),
        ),
    ),
    Evening(19, (_mist(4, 60), Mixed("Marsh Lantern", ((REEL8, 5),), 12))),
    Evening(
        15,
        (
            Layered(
                "Sedge over Fog",
                ((SLIP, 5),),
                (
                    Mixed("Deep Sedge", ((REEL4, 3),), 30),
                    Mixed("Fog Bell", ((SLIP, 3),), 10),
                ),
            ),
            Mixed("Midnight Sedge", ((CRAW, 4),), 10),
        ),
    ),
    Evening(
        11,
        (
            Mixed("Amber Ferry", ((CREEK, 3),), 40),
            Mixed("Brick Kiln", ((CRAW, 5),), 12),
        ),
    ),
    Evening(
        8,
        (
            Mixed("Plum Lockhouse", ((REEL8, 4),), 40),
            Mixed("Night Ferry", ((REEL4, 4),), 10),
        ),
    ),
    Evening(
        4,
        (
            _mist(3, 65),
            Mixed("Marsh Lantern", ((REEL8, 4),), 50),
            Mixed("Deep Sedge", ((REEL8, 3),), 10),
        ),
    ),
    Evening(
        1,
        (
            Mixed("Fog Bell", ((SLIP, 4),), 36, "puck"),
            Mixed("Amber Ferry", ((CREEK, 3),), 75, "keep"),
        ),
        "Amber kept in its cup: Brick Kiln is next.",
    ),
]

#: (days before today, pattern, why): trim that no color of the shop's takes.
MIXED_TRIM = (21, "Sedge over Fog", "Mixed trim of two layers: no color of ours takes it.")
#: (days before today, melts from which it goes, why).
TIRED_TRIM = (9, 4, "Crumbs, and trim melted too often to stay clear.")
