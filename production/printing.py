"""What one print job draws: the labels of its lots, by its kind, on its sheet, as its template says."""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.urls import reverse
from PIL import Image

from inventory.models import Lot
from inventory.services import files
from inventory.svg import Drawing
from inventory.wording import quantity_text
from production import (
    bag_record,
    header_card,
    label_facts,
    label_sheets,
    label_stock,
    label_template,
    labels,
    lid_facts,
    package_checks,
    plain_label,
)
from production.models import LabelTemplate, Printer, Product

Kind = LabelTemplate.Kind
LabelError = label_stock.LabelError
#: Kinds made of a few lines and a code; the others are drawn like bag labels.
PLAIN = (Kind.LID, Kind.SHELF)
#: Kinds printed for lots, on the labels page.
FOR_LOTS = (Kind.BAG, Kind.HEADER, Kind.LID, Kind.SHELF)
_POURED = (Lot.Form.LIQUID, Lot.Form.PUCK, Lot.Form.TRIM)
#: What many of a kind are called.
PLURAL = {
    Kind.BAG: "bag labels",
    Kind.HEADER: "header cards",
    Kind.LID: "lid labels",
    Kind.SHELF: "shelf labels",
    Kind.MAILING: "mailing labels",
}


@dataclass(frozen=True)
class Job:
    """Lots with how many labels of each, and how they are drawn."""

    kind: str
    lots: Sequence[tuple[Lot, int]]
    stock: label_stock.Stock
    start: int = 1
    template: LabelTemplate | None = None
    printer: Printer | None = None


def usual(shop) -> Job:
    """What labels of products are drawn as until someone says otherwise: by the usual template of bag
    labels, else of header cards, else on the usual sheet. Without lots; at most three queries."""
    found = LabelTemplate.objects.filter(usual=True, kind__in=[Kind.BAG, Kind.HEADER])
    for template in found.order_by("kind"):  # "bag" before "header"
        try:
            return Job(template.kind, (), label_sheets.find(template.stock), template=template)
        except LabelError:
            continue  # its sheet was taken away
    return Job(Kind.BAG, (), label_stock.STOCKS[label_stock.usual(shop)])


def checks(product: Product, job: Job, shop) -> Sequence[package_checks.Check]:
    """The checklist of a product's package, its count measured as the job would draw it."""
    look = look_of(job.template, None, logo_of(shop))
    header = job.kind == Kind.HEADER
    package = label_facts.package(product, shop, job.stock, look, header=header)
    return package_checks.checks(package)


def lots(kind: str):
    """The lots on hand that labels of a kind are for, newest first."""
    if kind in (Kind.BAG, Kind.HEADER):
        return bag_record.bag_lots()
    found = Lot.objects.in_stock().select_related("item", "supplier", "batch__version__recipe")
    if kind == Kind.LID:
        return found.filter(form__in=_POURED).order_by("-pk")
    return found.exclude(form=Lot.Form.BAG).order_by("-received_on", "-pk")


def pdf(job: Job, shop, logo: labels.Logo | None = None) -> bytes:
    """The job on paper. Raises LabelError naming what can't be printed."""
    wanted = [(make(job.kind, lot, job.template, shop), count) for lot, count in job.lots]
    many = [label for label, count in wanted for _ in range(count)]
    look = look_of(job.template, job.printer, logo)
    if job.kind in PLAIN:
        return plain_label.sheet(
            many, job.stock, job.start, right_mm=look.right_mm, down_mm=look.down_mm
        )
    draw = header_card.sheet if job.kind == Kind.HEADER else labels.sheet
    return draw(many, job.stock, job.start, look)


def preview(job: Job, shop, logo: labels.Logo | None = None) -> Drawing:
    """The first label of the job as SVG. Raises LabelError as `pdf` does."""
    label = make(job.kind, job.lots[0][0], job.template, shop)
    if job.kind in PLAIN:
        return plain_label.preview(label, job.stock)
    draw = header_card.preview if job.kind == Kind.HEADER else labels.preview
    return draw(label, job.stock, look_of(job.template, None, logo))


def logo_of(shop) -> labels.Logo | None:
    """The shop's logo as labels draw it; None when there is none, or its file is gone."""
    stored = shop.logo if shop else None
    path = files.path_of(stored.stored_as) if stored else None
    if path is None or not path.is_file():
        return None
    data = path.read_bytes()
    with Image.open(io.BytesIO(data)) as picture:
        width, height = picture.size
    return labels.Logo(data, width / height, reverse("inventory:file", args=[stored.pk]))


def look_of(
    template: LabelTemplate | None, printer: Printer | None, logo: labels.Logo | None
) -> labels.Look:
    return labels.Look(
        template=label_template.read(template.parts) if template else label_template.USUAL,
        logo=logo,
        right_mm=float(printer.right_mm) if printer else 0.0,
        down_mm=float(printer.down_mm) if printer else 0.0,
    )


def make(kind: str, lot: Lot, template: LabelTemplate | None, shop):
    """The label of one lot, in the words of its kind."""
    if kind == Kind.LID:
        return lid(lot, shop)
    if kind == Kind.SHELF:
        return shelf(lot, shop)
    front = label_facts.label(lot, shop)
    return header_card.Card(front, label_facts.back(lot, shop)) if kind == Kind.HEADER else front


def lid(lot: Lot, shop) -> plain_label.PlainLabel:
    """The lid of a leftover: color, base, melts, doses, and the way to its page."""
    said = lid_facts.lid(lot)
    lines = [said.name, f"{said.lot} · {said.day}", f"{said.amount} · {said.melts}", *said.doses]
    return plain_label.PlainLabel(lines, address=_address(lot, shop), few=True)


def shelf(lot: Lot, shop) -> plain_label.PlainLabel:
    """A bottle's or bin's label: what (a leftover by its color), which lot, whose, until when."""
    lines = [_name(lot), f"Lot {lot.printed}, since {lot.received_on:%Y-%m-%d}"]
    if lot.supplier or lot.supplier_lot:
        theirs = f"their lot {lot.supplier_lot}" if lot.supplier_lot else ""
        lines.append(", ".join(filter(None, (str(lot.supplier or ""), theirs))))
    if lot.expires_on:
        lines.append(f"use by {lot.expires_on:%Y-%m-%d}")
    if lot.strength != 1:
        lines.append(f"thinned: strength {lot.strength.normalize():f}")
    return plain_label.PlainLabel(lines, bars=lot.printed, address=_address(lot, shop))


def _address(lot: Lot, shop) -> str:
    """The lot's page on the shop's own server, for a QR code; empty until the owner wrote the address."""
    server = shop.server_address.rstrip("/") if shop else ""
    return f"{server}/shelf/lots/{lot.pk}/" if server else ""


def named(lots: Iterable[tuple[Lot, int]]) -> list[tuple[Lot, str, int]]:
    """Each lot with what a job's line calls it."""
    return [(lot, f"{_name(lot)}, lot {lot.number}"[:160], count) for lot, count in lots]


def _name(lot: Lot) -> str:
    """A leftover by its color, anything else by its item."""
    return lid_facts.name(lot) if lot.form in _POURED else lot.item.name


def usual_count(kind: str, lot: Lot) -> int:
    """A label for every bag on hand; for lids and shelves one."""
    return label_facts.bags_on_hand(lot) if kind in (Kind.BAG, Kind.HEADER) else 1


def amount_of(kind: str, lot: Lot) -> str:
    """How much of a lot there is."""
    if kind in (Kind.BAG, Kind.HEADER):
        count = label_facts.bags_on_hand(lot)
        return f"{count} bag" + "s" * (count != 1)
    return quantity_text(lot.on_hand, lot.item.stock_unit)
