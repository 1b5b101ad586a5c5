"""The shop's papers: who sends them, to whom, short facts, tables and sums.

All figures come as finished text; this module only sets them. It takes any text: a letter that the font
lacks is drawn as an empty box."""

from dataclasses import dataclass
from pathlib import Path

from reportlab.lib import colors, utils
from reportlab.platypus import Flowable, Image, KeepTogether, Spacer, Table, TableStyle

from inventory import pdf, pdf_flow
from inventory.pdf_flow import text

LOGO_WIDTH, LOGO_HEIGHT = 150.0, 56.0
MOST_TOGETHER = 12
_SHADE, _RULE = colors.Color(0.92, 0.92, 0.92), colors.Color(0.6, 0.6, 0.6)


class PaperError(ValueError):
    """A paper that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class Sender:
    """The shop as its papers show it; `logo`: a picture's file."""

    name: str
    lines: tuple[str, ...] = ()
    logo: Path | None = None


@dataclass(frozen=True)
class Column:
    """A column's head, its share of the width, and how its cells are set."""

    name: str
    share: float
    right: bool = False
    bold: bool = False


@dataclass(frozen=True)
class Grid:
    """A table; its head comes again on each page. `sums`: (label, amount) below, the last set in bold."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    sums: tuple[tuple[str, str], ...] = ()
    heading: str = ""


@dataclass(frozen=True)
class Paper:
    """One paper. `to`: the lines of the address; `facts`: (label, text) at the head."""

    title: str
    sender: Sender
    facts: tuple[tuple[str, str], ...] = ()
    to: tuple[str, ...] = ()
    grids: tuple[Grid, ...] = ()
    notes: tuple[str, ...] = ()
    size: str = "letter"


def draw(paper: Paper) -> bytes:
    """The paper as a PDF; the same paper always gives the same bytes. Raises PaperError for an unknown
    size."""
    if paper.size not in pdf.PAGES:
        raise PaperError(f"The paper is letter or a4, not “{paper.size}”.")
    page = pdf.PAGES[paper.size]
    foot = ", ".join(
        part for part in (pdf.clean(paper.title), pdf.clean(paper.sender.name)) if part
    )
    return pdf_flow.draw(foot, page, lambda: _story(paper, page[0] - 2 * pdf_flow.MARGIN))


def _story(paper: Paper, width: float) -> list[Flowable]:
    story: list[Flowable] = [_head(paper, width), Spacer(0, 14)]
    if paper.to:
        name, *lines = paper.to
        story += [
            text("To", 8.5),
            text(name, 11, bold=True),
            *(text(line, 10.5) for line in lines),
            Spacer(0, 14),
        ]
    for grid in paper.grids:
        story += [*_grid(grid, width), Spacer(0, 14)]
    story += [text(line) for note in paper.notes for line in note.splitlines() if line.strip()]
    return story


def _head(paper: Paper, width: float) -> Table:
    sender: list[Flowable] = [_logo(paper.sender.logo), Spacer(0, 6)] if paper.sender.logo else []
    if paper.sender.name:
        sender.append(text(paper.sender.name, 13, bold=True))
    sender += [text(line, 9) for line in paper.sender.lines]
    title: list[Flowable] = [text(paper.title, 18, bold=True, right=True), Spacer(0, 4)]
    title += [text(f"{label}: {said}", 9.5, right=True) for label, said in paper.facts if said]
    bare = [(name, (0, 0), (-1, -1), 0) for name in ("LEFTPADDING", "RIGHTPADDING", "TOPPADDING")]
    style = TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *bare])
    return Table([[sender or "", title]], [width * 0.5, width * 0.5], style=style)


def _logo(path: Path) -> Image:
    across, down = utils.ImageReader(str(path)).getSize()
    scale = min(LOGO_WIDTH / across, LOGO_HEIGHT / down)
    return Image(str(path), across * scale, down * scale, hAlign="LEFT")


def _grid(grid: Grid, width: float) -> list[Flowable]:
    heads = [text(one.name, 8.5, bold=True, right=one.right) for one in grid.columns]
    rows = [heads, *(_row(grid.columns, row) for row in grid.rows)]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        *((name, (0, 0), (-1, -1), 4) for name in ("LEFTPADDING", "RIGHTPADDING")),
        *((name, (0, 0), (-1, -1), 4) for name in ("TOPPADDING", "BOTTOMPADDING")),
        ("BACKGROUND", (0, 0), (-1, 0), _SHADE),
        ("LINEBELOW", (0, 0), (-1, len(grid.rows)), 0.5, _RULE),
    ]
    blanks = [""] * (len(grid.columns) - 2)
    for number, (label, amount) in enumerate(grid.sums, 1):
        bold = number == len(grid.sums)
        cells = [text(label, bold=bold, right=True), text(amount, bold=bold, right=True)]
        style.append(("SPAN", (0, len(rows)), (-2, len(rows))))
        rows.append([cells[0], *blanks, cells[1]])
    if grid.sums:
        # Sums alone on the next page would belong to nothing; very many of them must part.
        first = max(len(grid.rows), len(rows) - MOST_TOGETHER)
        style.append(("NOSPLIT", (0, first), (-1, len(rows) - 1)))
    widths = [width * one.share for one in grid.columns]
    table = Table(rows, widths, repeatRows=1, style=TableStyle(style))
    if not grid.heading:
        return [table]
    heading = [text(grid.heading, 11, bold=True), Spacer(0, 4)]
    # A heading stays with the rows below it; a long table may break.
    return [KeepTogether([*heading, table])] if len(grid.rows) <= 12 else [*heading, table]


def _row(columns: tuple[Column, ...], row: tuple[str, ...]) -> list[Flowable]:
    return [
        text(cell, bold=one.bold, right=one.right) for one, cell in zip(columns, row, strict=True)
    ]
