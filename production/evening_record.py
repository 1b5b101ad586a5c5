"""The batch record on paper: an evening batch by batch, as it was planned and as it was done.

All figures come as finished text with their units; this module only sets them.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from inventory import pdf

_MARGIN = 40.0
_GRAY, _PALE = colors.Color(0.6, 0.6, 0.6), colors.Color(0.93, 0.93, 0.93)
#: A batch begins on this page only when so much of it fits under its name.
_ROOM_FOR_A_HEAD = 150.0


class EveningRecordError(ValueError):
    """A record that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class Input:
    """One thing that went in: what the recipe asked for and what was drawn; `lot` with its supplier's."""

    what: str
    planned: str
    actual: str
    lot: str
    when: str


@dataclass(frozen=True)
class Molding:
    """Shots of one mold and what a bait's cavities gave."""

    shots: str
    bait: str
    good: str
    seconds: str
    rejects: str
    percent: str


@dataclass(frozen=True)
class Batch:
    """One batch in words. `facts`: pairs of a name and what it was; `notes` are said as they are."""

    name: str
    recipe: str
    facts: tuple[tuple[str, str], ...] = ()
    inputs: tuple[Input, ...] = ()
    moldings: tuple[Molding, ...] = ()
    heats: tuple[str, ...] = ()
    chain: tuple[str, ...] = ()
    balance: str = ""
    amendments: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class EveningRecord:
    """An evening: shop and date as text, its facts and sums, its batches in pouring order, the paper
    (“letter” or “a4”)."""

    shop: str
    date: str
    facts: tuple[tuple[str, str], ...] = ()
    batches: tuple[Batch, ...] = ()
    open_ends: tuple[str, ...] = ()
    note: str = ""
    paper: str = "letter"


def draw(record: EveningRecord) -> bytes:
    """The record as a PDF. The same record always gives the same bytes.

    Raises EveningRecordError for an unknown paper."""
    if record.paper not in pdf.PAGES:
        raise EveningRecordError(f"The paper is letter or a4, not “{record.paper}”.")
    pdf.register_fonts()
    # The page count is known only after one run, and each run uses up its story.
    pages, _data = _build(record, 0)
    return _build(record, pages)[1]


def _build(record: EveningRecord, pages: int) -> tuple[int, bytes]:
    out, page = io.BytesIO(), pdf.PAGES[record.paper]
    title = f"Batch record {pdf.clean(record.date)}, {pdf.clean(record.shop)}"
    document = BaseDocTemplate(
        out, pagesize=page, invariant=1, title=title, lang="en", initialFontName=pdf.BODY
    )
    frame = Frame(
        _MARGIN, _MARGIN, page[0] - 2 * _MARGIN, page[1] - 2 * _MARGIN, 0, 0, 0, 0, id="record"
    )

    def furniture(drawing, document) -> None:
        pdf.footer(drawing, page, _MARGIN, title, f"Page {document.page} of {pages}")

    document.addPageTemplates(PageTemplate(frames=[frame], onPage=furniture))
    document.build(_story(record, page[0] - 2 * _MARGIN))
    return document.page, out.getvalue()


def _text(text: str, size: float = 9, *, bold: bool = False, right: bool = False) -> Paragraph:
    style = ParagraphStyle(
        "text",
        fontName=pdf.BOLD if bold else pdf.BODY,
        fontSize=size,
        leading=size * 1.3,
        alignment=2 if right else 0,
        splitLongWords=True,
    )
    return Paragraph(pdf.tie(pdf.escape(text)), style)


def _story(record: EveningRecord, width: float) -> list[Flowable]:
    story: list[Flowable] = [
        _text(f"Batch record {record.date}", 18, bold=True),
        _text(record.shop, 11),
        Spacer(0, 10),
        _facts(record.facts, width),
    ]
    if record.note:
        story += [Spacer(0, 4), _text(record.note)]
    if record.open_ends:
        story += _list("What does not add up", record.open_ends)
    if not record.batches:
        return [*story, Spacer(0, 12), _text("No batch was mixed.", 11)]
    for batch in record.batches:
        story += [Spacer(0, 16), CondPageBreak(_ROOM_FOR_A_HEAD), *_batch(batch, width)]
    return story


def _batch(batch: Batch, width: float) -> list[Flowable]:
    story: list[Flowable] = [
        KeepTogether(
            [
                _text(batch.name, 13, bold=True),
                _text(batch.recipe, 9.5),
                Spacer(0, 4),
                _facts(batch.facts, width),
            ]
        )
    ]
    if batch.inputs:
        names = ("What went in", "Recipe asks", "Really used", "Lot, supplier's lot", "When")
        rows = [(i.what, i.planned, i.actual, i.lot, i.when) for i in batch.inputs]
        story += [Spacer(0, 6), _table(names, rows, width, (0.28, 0.17, 0.2, 0.25, 0.1), {1, 2})]
    if batch.moldings:
        names = ("Shots", "Bait", "Good", "Seconds", "Rejects", "Yield")
        rows = [(m.shots, m.bait, m.good, m.seconds, m.rejects, m.percent) for m in batch.moldings]
        shares = (0.27, 0.19, 0.09, 0.1, 0.26, 0.09)
        story += [Spacer(0, 6), _table(names, rows, width, shares, {2, 3, 5})]
    for heading, lines in (
        ("Warmings", batch.heats),
        ("Leftovers", batch.chain),
        ("Balance of base", (batch.balance,) if batch.balance else ()),
        ("Amended", batch.amendments),
        ("Notes", batch.notes),
    ):
        if lines:
            story += _list(heading, lines)
    return story


def _list(heading: str, lines: Sequence[str]) -> list[Flowable]:
    first, *rest = [_text(line) for line in lines]
    return [
        Spacer(0, 6),
        KeepTogether([_text(heading, 9, bold=True), first]),
        *rest,
    ]


def _facts(facts: Sequence[tuple[str, str]], width: float) -> Flowable:
    """Names and values, two pairs to a line."""
    if not facts:
        return Spacer(0, 0)
    cells = [[_text(name, 8), _text(value, 9, bold=True)] for name, value in facts]
    if len(cells) % 2:
        cells.append(["", ""])
    rows = [cells[i] + cells[i + 1] for i in range(0, len(cells), 2)]
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 6),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ]
    )
    return Table(rows, [width * share for share in (0.15, 0.35, 0.15, 0.35)], style=style)


def _table(
    names: Sequence[str],
    rows: Sequence[Sequence[str]],
    width: float,
    shares: Sequence[float],
    right: set[int],
) -> Flowable:
    head = [_text(name, 8, bold=True, right=i in right) for i, name in enumerate(names)]
    body = [[_text(cell, right=i in right) for i, cell in enumerate(row)] for row in rows]
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            ("BACKGROUND", (0, 0), (-1, 0), _PALE),
            ("LINEBELOW", (0, 0), (-1, -1), 0.5, _GRAY),
        ]
    )
    return Table([head, *body], [width * share for share in shares], repeatRows=1, style=style)
