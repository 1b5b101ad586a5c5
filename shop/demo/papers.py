"""The demo shop's two files: an invented data sheet, and a drawn picture of a mold."""

import io
import math

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw

from inventory import pdf
from inventory.models import Item, ItemFile
from inventory.services import files
from production.models import Mold
from production.services import pictures
from shop.models import User

ITEM, MOLD = "Stillpool medium", "Reed Eel eight"
#: The sections of a safety data sheet: 29 CFR 1910.1200, appendix D (from memory), and what a
#: workshop looks there for.
SECTIONS = [
    ("Identification", "what it is, who makes it, whom to call"),
    ("Hazards", "the signal word and what it can do to you"),
    ("Ingredients", "what is in it, as far as it must be told"),
    ("First aid", "what to do for skin, eyes, lungs and when swallowed"),
    ("Fire", "what puts it out, and what must not be used"),
    ("Spills", "how to take it up"),
    ("Handling and storage", "how warm, how long, away from what"),
    ("Exposure and protection", "ventilation, gloves, glasses, respirator"),
    ("Properties", "density, flash point, boiling point"),
    ("Stability", "the temperature above which it breaks down, and into what"),
    ("Toxicology", "what is known of its effects"),
    ("Ecology", "what it does in water"),
    ("Disposal", "where its waste goes"),
    ("Transport", "how it may be shipped"),
    ("Regulation", "which rules name it"),
    ("Other", "the date of the sheet: ask for a newer one now and then"),
]
MARGIN = 18 * pdf.MM
PLATE, EDGE, HOLLOW, DEEP, DESK = "#9aa3ad", "#6d7681", "#727b86", "#59626d", "#c9b48f"


def add(by: User) -> None:
    """Keeps both files as their owner would have."""
    files.add_item_file(
        item=Item.objects.get(name=ITEM),
        kind=ItemFile.Kind.DATA_SHEET,
        file=SimpleUploadedFile("sheet.pdf", data_sheet()),
        name=f"Data sheet of {ITEM} (invented)",
        by=by,
    )
    pictures.add(
        mold=Mold.objects.get(name=MOLD),
        file=SimpleUploadedFile("mold.png", open_mold()),
        name="The open mold, drawn: eight cavities, one sprue in the middle",
        by=by,
    )


def data_sheet() -> bytes:
    """One page that says of itself that nothing on it may be relied on."""
    out = io.BytesIO()
    page = pdf.LETTER
    drawing = pdf.canvas(out, page, f"Invented data sheet of {ITEM}")
    top = page[1] - MARGIN
    drawing.setFont(pdf.BOLD, 18)
    drawing.drawString(MARGIN, top - 18, f"Safety data sheet: {ITEM}")
    drawing.setFont(pdf.BOLD, 11)
    drawing.drawString(MARGIN, top - 40, "Invented for the demo shop. No such product exists.")
    drawing.setFont(pdf.BODY, 10)
    drawing.drawString(
        MARGIN, top - 56, "Put the sheet of what you really pour in its place: its maker sends it."
    )
    top -= 86
    for number, (title, words) in enumerate(SECTIONS, 1):
        drawing.setFont(pdf.BOLD, 10)
        drawing.drawString(MARGIN, top, f"{number}. {title}")
        drawing.setFont(pdf.BODY, 10)
        drawing.drawString(MARGIN, top - 14, f"On a real sheet: {words}.")
        top -= 35
    pdf.footer(drawing, page, MARGIN, "Demo shop: nothing on this page may be relied on", "1 of 1")
    drawing.save()
    return out.getvalue()


def open_mold() -> bytes:
    """One half of a mold for eight slim baits, seen from above, as PNG."""
    image = Image.new("RGB", (1200, 900), DESK)
    pen = ImageDraw.Draw(image)
    pen.rounded_rectangle((90, 70, 1110, 830), 24, fill=PLATE, outline=EDGE, width=6)
    for x in (140, 1060):
        for y in (120, 780):
            pen.ellipse((x - 16, y - 16, x + 16, y + 16), fill=HOLLOW, outline=DEEP, width=3)
    pen.rectangle((588, 70, 612, 760), fill=HOLLOW)
    pen.polygon([(560, 70), (640, 70), (612, 120), (588, 120)], fill=DEEP)
    for row in range(4):
        y = 225 + 160 * row
        for side in (-1, 1):
            pen.line((600, y, 600 + side * 60, y), fill=HOLLOW, width=10)
            pen.polygon(_eel(600 + side * 55, y, side), fill=HOLLOW, outline=DEEP)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def _eel(x: int, y: int, side: int) -> list[tuple[float, float]]:
    """The outline of a slim bait with its nose at (x, y), its tail waving away to the side."""
    upper, lower = [], []
    for step in range(41):
        along = step / 40
        half = 30 * math.sqrt(min(1.0, along * 6)) * (1 - along) ** 0.6 + 2
        middle = y + 16 * along**2 * math.sin(7 * along)
        upper.append((x + side * 380 * along, middle - half))
        lower.append((x + side * 380 * along, middle + half))
    return upper + lower[::-1]
