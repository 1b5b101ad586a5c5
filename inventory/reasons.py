"""Why stock was found different, or was thrown away: the usual words, and one's own."""

#: The one that asks for words of one's own.
OTHER = "other"
COUNTED = (
    ("", "not known"),
    ("spilled", "spilled"),
    ("evaporated or left in the bottle", "evaporated, or left in the bottle"),
    ("miscounted before", "miscounted before"),
    ("used and not logged", "used and not logged"),
    ("found", "found"),
    (OTHER, "something else"),
)
WASTED = (
    ("", "choose why"),
    ("spilled", "spilled"),
    ("scorched", "scorched"),
    ("out of date", "out of date"),
    ("settled or gone hard", "settled, or gone hard"),
    ("wet or dirty", "wet or dirty"),
    ("wrong color", "wrong color"),
    (OTHER, "something else"),
)


def note(choice: str, words: str) -> str:
    """The reason as it is kept: the usual words, one's own, or both."""
    usual = "" if choice == OTHER else choice
    return ": ".join(part for part in (usual, words.strip()) if part)
