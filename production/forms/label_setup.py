"""Sheets, printers and templates of labels."""

from decimal import Decimal

from django import forms

from inventory import forms_base
from production import label_sheets, label_stock, label_template, measured
from production.forms.measures import LengthField
from production.models import LabelSheet, LabelTemplate, Printer


class SpanField(LengthField):
    """A length on a sheet, zero allowed → Decimal mm to a hundredth; the unit must be said."""

    def read(self, text: str) -> Decimal:
        value = Decimal(0) if text.strip() == "0" else measured.length(text)
        if not 0 <= value <= 2000:
            raise ValueError("A length on a sheet is between 0 and 2000 mm.")
        return round(value, 2)


class SheetForm(forms_base.PlainForm):
    """A sheet or roll by its measures, as printed on its packet."""

    name = forms.CharField(max_length=60, help_text="By its measures: 2 × 8, 95 × 32 mm.")
    page_w_mm = SpanField(label="Page width", help_text="8.5 in, 210 mm. A roll: its label.")
    page_h_mm = SpanField(label="Page height")
    columns = forms_base.NumberField(label="Labels across", whole=True, at_least=1, at_most=50)
    rows = forms_base.NumberField(label="Labels down", whole=True, at_least=1, at_most=100)
    label_w_mm = SpanField(label="Label width")
    label_h_mm = SpanField(label="Label height")
    left_mm = SpanField(label="Left margin", help_text="From the page's edge to the first label.")
    top_mm = SpanField(label="Top margin")
    gap_x_mm = SpanField(label="Gap across", help_text="Between two labels: 0 where they touch.")
    gap_y_mm = SpanField(label="Gap down")
    radius_mm = SpanField(label="Corner radius", help_text="0: square corners.")
    dpi = forms_base.NumberField(
        label="Dots per inch of its thermal printer",
        whole=True,
        at_least=100,
        at_most=1200,
        required=False,
        help_text="203 or 300 as a rule. Empty: printed by an office printer.",
    )

    MEASURES = [
        "name",
        "page_w_mm",
        "page_h_mm",
        "columns",
        "rows",
        "label_w_mm",
        "label_h_mm",
        "left_mm",
        "top_mm",
        "gap_x_mm",
        "gap_y_mm",
        "radius_mm",
        "dpi",
    ]

    def __init__(self, *args, sheet: LabelSheet | None = None, **kwargs) -> None:
        self.sheet = sheet or LabelSheet()
        if sheet:
            kwargs.setdefault("initial", {name: getattr(sheet, name) for name in self.MEASURES})
        else:
            zero = dict.fromkeys(("left_mm", "top_mm", "gap_x_mm", "gap_y_mm", "radius_mm"), "0 mm")
            kwargs.setdefault("initial", zero | {"rows": 1, "columns": 1})
        super().__init__(*args, **kwargs)

    def clean(self) -> dict:
        typed = super().clean()
        if self.errors:
            return typed
        taken = LabelSheet.objects.exclude(pk=self.sheet.pk).filter(name__iexact=typed["name"])
        if taken.exists():
            self.add_error("name", "There is already a sheet of that name.")
        for name in self.MEASURES:
            setattr(self.sheet, name, typed[name])
        try:
            label_sheets.of(self.sheet)
        except label_stock.LabelError as error:
            self.add_error(_field_of(str(error)), str(error))
        return typed


def _field_of(refused: str) -> str | None:
    """The measure that a sheet is refused for."""
    found = (("across", "label_w_mm"), ("down", "label_h_mm"), ("corner radius", "radius_mm"))
    return next((name for words, name in found if words in refused), None)


class PrinterForm(forms_base.PlainForm):
    name = forms.CharField(max_length=60, help_text="As you call it: the desk printer.")
    right_mm = forms_base.NumberField(
        label="Move right (mm)",
        at_least=-20,
        at_most=20,
        places=1,
        initial="0",
        help_text="Minus moves left.",
    )
    down_mm = forms_base.NumberField(
        label="Move down (mm)",
        at_least=-20,
        at_most=20,
        places=1,
        initial="0",
        help_text="Minus moves up.",
    )

    def __init__(self, *args, printer: Printer | None = None, **kwargs) -> None:
        self.printer = printer or Printer()
        if printer:
            facts = ("name", "right_mm", "down_mm")
            kwargs.setdefault("initial", {name: getattr(printer, name) for name in facts})
        super().__init__(*args, **kwargs)

    def clean(self) -> dict:
        typed = super().clean()
        name = typed.get("name")
        if name and Printer.objects.exclude(pk=self.printer.pk).filter(name__iexact=name).exists():
            self.add_error("name", "There is already a printer of that name.")
        for fact in ("name", "right_mm", "down_mm"):
            if fact in typed:
                setattr(self.printer, fact, typed[fact])
        return typed


class TemplateForm(forms_base.PlainForm):
    """A template: its sheet, and each part's size (0: not shown)."""

    name = forms.CharField(max_length=60)
    kind = forms.ChoiceField(
        choices=[(k.value, k.label) for k in (LabelTemplate.Kind.BAG, LabelTemplate.Kind.HEADER)]
    )
    stock = forms.ChoiceField(label="Sheet")
    usual = forms.BooleanField(
        required=False, label="The usual one", help_text="Chosen beforehand when you print."
    )

    def __init__(self, *args, template: LabelTemplate | None = None, **kwargs) -> None:
        self.template = template or LabelTemplate()
        look = label_template.read(self.template.parts)
        if template:
            facts = ("name", "kind", "stock", "usual")
            kwargs.setdefault("initial", {name: getattr(template, name) for name in facts})
        super().__init__(*args, **kwargs)
        self.fields["stock"].choices = label_sheets.grouped()
        for part, (name, _usual) in label_template.PARTS.items():
            if part in label_template.SWITCHES:
                field = forms.BooleanField(required=False, label=f"{name[0].upper()}{name[1:]}")
                self.initial.setdefault(f"part_{part}", look.shows(part))
            else:
                field = forms_base.NumberField(
                    label=f"{name.capitalize()}, size in %", whole=True, at_most=label_template.MOST
                )
                self.initial.setdefault(f"part_{part}", look.size(part))
            self.fields[f"part_{part}"] = field

    @property
    def part_fields(self) -> list:
        return [self[f"part_{part}"] for part in label_template.PARTS]

    def clean(self) -> dict:
        typed = super().clean()
        parts = {}
        for part in label_template.PARTS:
            size = typed.get(f"part_{part}")
            if isinstance(size, bool):
                size = 100 if size else 0
            if size and size < label_template.LEAST:
                self.add_error(
                    f"part_{part}",
                    f"Between {label_template.LEAST} and {label_template.MOST}, or 0 to leave it out.",
                )
            if size is not None:
                parts[part] = size
        name = typed.get("name")
        others = LabelTemplate.objects.exclude(pk=self.template.pk)
        if name and others.filter(name__iexact=name).exists():
            self.add_error("name", "There is already a template of that name.")
        self.template.parts = parts
        for fact in ("name", "kind", "stock", "usual"):
            if fact in typed:
                setattr(self.template, fact, typed[fact])
        return typed
