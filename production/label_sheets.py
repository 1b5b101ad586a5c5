"""Every sheet and roll that labels can be printed on: the known layouts and the shop's own."""

from production import label_stock
from production.label_stock import LabelError, Stock
from production.models import LabelSheet

_OWN = "own:"


def own_key(sheet: LabelSheet) -> str:
    return f"{_OWN}{sheet.pk}"


def of(sheet: LabelSheet) -> Stock:
    """The layout of a sheet of the shop's own. Raises LabelError when its labels can't lie so."""
    return Stock(
        key=own_key(sheet),
        name=sheet.name,
        page_w_mm=float(sheet.page_w_mm),
        page_h_mm=float(sheet.page_h_mm),
        rows=sheet.rows,
        columns=sheet.columns,
        label_w_mm=float(sheet.label_w_mm),
        label_h_mm=float(sheet.label_h_mm),
        left_mm=float(sheet.left_mm),
        top_mm=float(sheet.top_mm),
        gap_x_mm=float(sheet.gap_x_mm),
        gap_y_mm=float(sheet.gap_y_mm),
        radius_mm=float(sheet.radius_mm),
        dpi=sheet.dpi,
    )


def find(key: str) -> Stock:
    """The layout behind a key. Raises LabelError when there is none any more."""
    if key in label_stock.STOCKS:
        return label_stock.STOCKS[key]
    number = key.removeprefix(_OWN)
    sheet = LabelSheet.objects.filter(pk=number).first() if number.isdigit() else None
    if sheet is None:
        raise LabelError("This label sheet is not known any more. Choose another one.")
    return of(sheet)


def grouped() -> list[tuple[str, list[tuple[str, str]]]]:
    """All keys and names, under headings: the shop's own first. One query."""
    groups: dict[str, list[tuple[str, str]]] = {"Your own": []}
    for sheet in LabelSheet.objects.all():
        groups["Your own"].append((own_key(sheet), sheet.name))
    for key, stock in label_stock.STOCKS.items():
        heading, _, name = stock.name.partition(", ")
        groups.setdefault(heading, []).append((key, name))
    return [(heading, pairs) for heading, pairs in groups.items() if pairs]
