"""Printed pages that run on: paragraphs and tables over as many sheets as they need, numbered."""

import io
from collections.abc import Callable

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph

from inventory import pdf

MARGIN = 40.0


def draw(title: str, page: tuple[float, float], story: Callable[[], list[Flowable]]) -> bytes:
    """The story as a PDF, its title and "Page 1 of 3" at the foot. The same story gives the same bytes.

    `story` is asked twice: the page count is known only after one run, and each run uses up its story."""
    pdf.register_fonts()
    pages, _data = _build(title, page, story(), 0)
    return _build(title, page, story(), pages)[1]


def text(text: str, size: float = 9.5, *, bold: bool = False, right: bool = False) -> Paragraph:
    """A paragraph; figures stay with the word after them."""
    style = ParagraphStyle(
        "text",
        fontName=pdf.BOLD if bold else pdf.BODY,
        fontSize=size,
        leading=size * 1.25,
        alignment=2 if right else 0,
        splitLongWords=True,
    )
    return Paragraph(pdf.tie(pdf.escape(text)), style)


def _build(title: str, page, story: list[Flowable], pages: int) -> tuple[int, bytes]:
    out = io.BytesIO()
    document = BaseDocTemplate(
        out, pagesize=page, invariant=1, title=title, lang="en", initialFontName=pdf.BODY
    )
    frame = Frame(MARGIN, MARGIN, page[0] - 2 * MARGIN, page[1] - 2 * MARGIN, 0, 0, 0, 0, id="list")

    def furniture(drawing, document) -> None:
        pdf.footer(drawing, page, MARGIN, title, f"Page {document.page} of {pages}")

    document.addPageTemplates(PageTemplate(frames=[frame], onPage=furniture))
    document.build(story)
    return document.page, out.getvalue()
