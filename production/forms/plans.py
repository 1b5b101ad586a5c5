"""What to make this evening: products under their minimum, orders short, and whatever else is wished."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.db.models import F, Sum
from django.utils.html import format_html

from inventory import forms_base, units
from inventory.models import Lot
from production import plan_shelf, wants
from production.forms import rows as lines
from production.models import Bait, Plan, Product

MOST_BAGS, MOST_BAITS = 200, 2000
PRODUCT_ROWS, BAIT_ROWS = 4, 6


class TickForm(forms_base.PlainForm):
    """One thing that is short: tick it, and say how many bags."""

    make = forms.BooleanField(required=False)
    bags = forms_base.NumberField(
        whole=True,
        at_least=1,
        at_most=MOST_BAGS,
        error_messages={"required": "How many bags?"},
    )
    use_required_attribute = False

    def __init__(self, *args, product: Product, why: str, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.product, self.why = product, why
        self.fields["make"].label = str(product)
        self.fields["bags"].label = format_html(
            'Bags<span class="visually-hidden"> of {}</span>', product
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean()
        if not facts.get("make"):
            # What is not ticked is not made, whatever stands beside it.
            self.errors.pop("bags", None)
        return facts

    def wishes(self) -> list[dict[str, Any]]:
        facts = self.cleaned_data
        if not facts.get("make"):
            return []
        return [{"product": self.product.pk, "bags": facts["bags"], "why": self.why}]


class ProductRow(lines.RowForm):
    product = lines.PickField()
    bags = forms_base.NumberField(label="Bags", whole=True, at_least=1, at_most=MOST_BAGS)

    def __init__(self, *args, products: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["product"].offer(products)

    def wish(self) -> dict[str, Any]:
        facts = self.cleaned_data
        return {"product": facts["product"].pk, "bags": facts["bags"], "why": ""}


class BaitRow(lines.RowForm):
    bait = lines.PickField()
    pattern = lines.PickField(label="Color")
    baits = forms_base.NumberField(label="How many", whole=True, at_least=1, at_most=MOST_BAITS)

    def __init__(self, *args, baits: lines.Offer, patterns: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bait"].offer(baits)
        self.fields["pattern"].offer(patterns)

    def wish(self) -> dict[str, Any]:
        facts = self.cleaned_data
        return {"bait": facts["bait"].pk, "pattern": facts["pattern"].pk, "baits": facts["baits"]}


class WishForm:
    """All of it on one page. Valid when every line is and something is wished for."""

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        plan: Plan | None = None,
        make: Mapping[int, int] | None = None,
    ) -> None:
        """`make`: bags by product that someone wants made: filled in, not yet sent."""
        self.problems: list[str] = []
        self.make = dict(make or {})
        wished = [wish for wish in plan.wishes if "leave" not in wish] if plan else []
        products = list(
            # seconds happen; nobody pours them
            Product.objects.filter(item__archived=False, second=False)
            .select_related("item")
            .order_by("item__name")
        )
        self.has_products = bool(products)
        self.ordered, self.low = self._ticks(data, products, wished)
        self.by_product = lines.Rows(
            ProductRow,
            data,
            prefix="product",
            count=PRODUCT_ROWS,
            shown=2,
            initial=[
                {"product": str(wish["product"]), "bags": wish["bags"]}
                for wish in wished
                if "product" in wish and not wish["why"]
            ]
            + [
                {"product": str(pk), "bags": min(bags, MOST_BAGS)}
                for pk, bags in self.make.items()
                if pk in {product.pk for product in products}
            ],
            products=lines.Offer({"": products}),
        )
        self.by_bait = lines.Rows(
            BaitRow,
            data,
            prefix="bait",
            count=BAIT_ROWS,
            shown=2,
            initial=[
                {"bait": str(wish["bait"]), "pattern": str(wish["pattern"]), "baits": wish["baits"]}
                for wish in wished
                if "bait" in wish
            ],
            baits=lines.Offer({"": list(Bait.objects.filter(archived=False))}),
            patterns=lines.Offer({"": list(plan_shelf.patterns_offered())}),
        )

    def _ticks(
        self, data, products: Sequence[Product], wished: Sequence[Mapping[str, Any]]
    ) -> tuple[list[TickForm], list[TickForm]]:
        """What open orders are short of, and what is under its minimum beside them."""
        known = {product.pk: product for product in products}
        wanted = {want.product: want for want in wants.found() if want.product in known}
        ticked = {(w["product"], w["why"]): w["bags"] for w in wished if w.get("why")}

        def tick(kind: str, product: Product, bags: int, why: str) -> TickForm:
            before = ticked.get((product.pk, why))
            if before is None and (wanted_bags := self.make.pop(product.pk, 0)):
                before = min(wanted_bags, MOST_BAGS)
            return TickForm(
                data,
                prefix=f"{kind}-{product.pk}",
                product=product,
                why=why,
                initial={"make": before is not None, "bags": before or min(bags, MOST_BAGS)},
            )

        ordered = [
            tick("order", known[pk], want.bags, want.why)
            for pk, want in wanted.items()
            if want.bags
        ]
        free = _bagged([product.item_id for product in products])
        low = []
        for product in products:
            least = product.item.minimum // units.MICRO
            ready = wanted[product.pk].ready if product.pk in wanted else 0
            short = least - (free.get(product.item_id, 0) - ready)
            if least and short > 0:
                low.append(tick("low", product, short, f"under its minimum of {least}"))
        return ordered, low

    def is_valid(self) -> bool:
        ticks = [tick.is_valid() for tick in (*self.ordered, *self.low)]
        valid = all([*ticks, self.by_product.is_valid(), self.by_bait.is_valid()])
        if valid and not self.wishes():
            self.problems.append("Nothing is wished for yet: tick something, or fill in a line.")
        return valid and not self.problems

    def wishes(self) -> list[dict[str, Any]]:
        """What was asked for, as a plan keeps it; call it on valid lines."""
        found = [wish for tick in (*self.ordered, *self.low) for wish in tick.wishes()]
        return found + [row.wish() for row in (*self.by_product.filled, *self.by_bait.filled)]

    def suggested(self) -> list[dict[str, Any]]:
        """All that is short, in the bags that are missing."""
        return [
            {"product": tick.product.pk, "bags": tick.initial["bags"], "why": tick.why}
            for tick in (*self.ordered, *self.low)
        ]

    @property
    def ticks_wrong(self) -> list[TickForm]:
        return [tick for tick in (*self.ordered, *self.low) if tick.is_bound and tick.errors]

    @property
    def has_errors(self) -> bool:
        rows = self.by_product.has_errors or self.by_bait.has_errors
        return bool(self.problems or self.ticks_wrong or rows)


class MinutesForm(forms_base.PlainForm):
    minutes = forms_base.NumberField(
        label="Minutes this evening", whole=True, at_least=10, at_most=1440
    )


def _bagged(items: Sequence[int]) -> dict[int, int]:
    """Whole bags on hand that nothing holds, by item."""
    rows = Lot.objects.in_stock().filter(item__in=items).order_by().values_list("item")
    return {
        pk: int(free) // units.MICRO
        for pk, free in rows.annotate(free=Sum(F("on_hand") - F("reserved")))
    }
