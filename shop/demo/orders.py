"""The demo shop's customers, and what they ordered."""

OTTER, DUNMERE = "Otter Bend Outfitters", "Dunmere Landing Bait Shop"
HOLLIS, MARTA, JUNE, CAL = "Hollis Perrin", "Marta Quill", "June Abbershaw", "Cal Whitlock"

CUSTOMERS = [
    {
        "name": OTTER,
        "email": "counter@otterbend.example",
        "phone": "555-0117",
        "address": "4 Ferry Row\nOtter Bend",
        "notes": "Wants the lot number on the packing slip.",
    },
    {"name": DUNMERE, "phone": "555-0164", "address": "Landing Road\nDunmere"},
    {"name": HOLLIS, "email": "hollis@perrin.example"},
    {"name": MARTA, "email": "marta@quill.example", "address": "19 Cooper Steps\nAlder Slip"},
    {"name": JUNE, "phone": "555-0188"},
    {"name": CAL, "notes": "Picks up on Saturdays."},
]

ML, DS, PLUM, NIGHT = (
    "Reed Eel Marsh Lantern, 8",
    "Reed Eel Deep Sedge, 8",
    "Reed Eel Plum Lockhouse, 8",
    "Reed Eel Night Ferry, 8",
)
FOG, SLIP2 = "Slip Minnow Fog Bell, 6", "Slip Minnow Sedge over Fog, 6"
BRICK, MIDNIGHT, CRAW2 = (
    "Stump Craw Brick Kiln, 5",
    "Stump Craw Midnight Sedge with rattles, 5",
    "Stump Craw Kettle over Amber, 5",
)
BOX = "Creek box, 16"

#: (days before today, customer, [(product, bags)], due in so many days, notes).
ORDERS = [
    (53, HOLLIS, [(ML, 2), (BRICK, 1)], 10, ""),
    (49, OTTER, [(ML, 3), (FOG, 2), (BOX, 2)], 14, ""),
    (44, MARTA, [(DS, 1), (MIDNIGHT, 2)], 14, ""),
    (37, DUNMERE, [(PLUM, 2), (NIGHT, 1), (SLIP2, 3)], 14, "For the dock rack."),
    (31, CAL, [(MIDNIGHT, 2), (ML, 2)], 10, ""),
    (25, OTTER, [(FOG, 3), (BRICK, 3), (DS, 3)], 14, ""),
    (19, JUNE, [(CRAW2, 2), (BOX, 1)], 7, "A gift: no prices in the parcel."),
    (14, DUNMERE, [(ML, 4), (MIDNIGHT, 2), (SLIP2, 3)], 10, ""),
    (5, HOLLIS, [(PLUM, 2), (BRICK, 2)], 9, ""),
    (3, OTTER, [(ML, 6), (NIGHT, 3), (CRAW2, 4)], 12, "Before the opener, if it can be done."),
]

#: What some of them pay: a name, per cent off, prices of its own by product in cents, and who.
PRICE_LISTS = [
    ("Stall", 0, {BOX: 1000}, ()),
    ("Wholesale", 30, {BOX: 825}, (OTTER, DUNMERE)),
]

#: A color that someone asked for and nobody has poured: who, words, target.
WISH = (MARTA, "Like weak tea, with a little copper that only shows in the sun.", "#7a4b21")

#: Paid before anything was sent: the last order's customer, in cents.
DEPOSIT = (OTTER, 3000)

#: Mornings on which whatever was ready went to the post, in days before today.
POST_DAYS = [48, 41, 34, 27, 20, 13, 6]
