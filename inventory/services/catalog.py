"""Writing down what the shelf stocks: items and their facts."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from inventory import stocking
from inventory.models import Item, Place

#: The facts of an item that a form may set; on hand and grades are not among them.
FACTS = [
    "kind",
    "name",
    "stock_unit",
    "density_g_per_ml",
    "ml_per_drop",
    "g_per_tsp",
    "weight_g",
    "color",
    "color_kind",
    "flake_size_in",
    "flake_shape",
    "hardness",
    "hardness_scale",
    "heat_limit_c",
    "melt_limit",
    "shelf_life_days",
    "hazards",
    "minimum",
    "target",
    "place",
    "notes",
    "archived",
]


def in_use(item: Item) -> bool:
    """Whether anything counts in the item's stock unit already: lots, packs, doses, packing lists."""
    for link in Item._meta.get_fields(include_hidden=True):
        if link.name != "files" and (link.one_to_many or link.one_to_one) and link.auto_created:
            name = link.field.name
            if link.related_model._base_manager.filter(**{name: item.pk}).exists():
                return True
    return False


@transaction.atomic
def add_item(**facts: Any) -> Item:
    """A new item; raises ValidationError keyed by field."""
    item = Item(**_known(facts))
    _check(item)
    item.save()
    return item


def unsaved_item(**facts: Any) -> Item:
    """A new item, checked but for what the database alone can tell: that its name is free.

    For a list of many, whose names are known: asking for each takes most of the time. Raises
    ValidationError keyed by field; saving it may raise IntegrityError."""
    item = Item(**_known(facts))
    _check(item, constraints=False)
    return item


@transaction.atomic
def change_item(item: Item, **facts: Any) -> Item:
    """Changes the facts given and no others; the stock unit and kind only while nothing uses them.

    Raises ValidationError keyed by field."""
    item = Item.objects.select_for_update(of=("self",)).get(pk=item.pk)
    facts = _known(facts)
    for name in ("kind", "stock_unit"):
        if facts.get(name, getattr(item, name)) != getattr(item, name) and in_use(item):
            raise ValidationError(
                {name: "Lots, packs or recipes already count in it. Make a new item instead."}
            )
    for name, value in facts.items():
        setattr(item, name, value)
    _check(item)
    item.save(update_fields=list(facts))
    return item


def place_named(name: str) -> Place | None:
    """The place of that name, made when it is new; None for an empty name."""
    if not name:
        return None
    found = Place.objects.filter(name__iexact=name).first()
    return found or Place.objects.create(name=name)


def _known(facts: dict[str, Any]) -> dict[str, Any]:
    if unknown := set(facts) - set(FACTS):
        raise TypeError(f"No such facts of an item: {', '.join(sorted(unknown))}")
    return facts


def _check(item: Item, *, constraints: bool = True) -> None:
    if item.kind in Item.BOUGHT and item.stock_unit not in stocking.stock_units(item.kind):
        raise ValidationError(
            {
                "stock_unit": f"A {item.kind} is stocked in {' or '.join(stocking.stock_units(item.kind))}."
            }
        )
    if stocking.needs_density(item.kind, item.stock_unit) and item.density_g_per_ml is None:
        raise ValidationError(
            {
                "density_g_per_ml": "Stocked in g, it needs its density: a dose takes room in the cup."
            }
        )
    if item.target and item.target < item.minimum:
        raise ValidationError({"target": "The target can't be less than the minimum."})
    item.full_clean(validate_unique=constraints, validate_constraints=constraints)
