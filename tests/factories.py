"""Plain functions that make what a test needs, through the app's own services where there are any."""

import itertools
from datetime import date
from decimal import Decimal

from django.utils import timezone

from inventory import units
from inventory.models import Item, Lot, Supplier
from inventory.services import receiving
from production.models import (
    Bait,
    Cavity,
    Cup,
    Dose,
    Layer,
    Mold,
    Pattern,
    Pour,
    Recipe,
    RecipeVersion,
)
from shop.models import Shop, User

_numbers = itertools.count(1)


def key() -> str:
    return f"key-{next(_numbers)}"


def micro(value) -> int:
    return units.to_micro(Decimal(str(value)))


def make_shop(name: str = "Lantern Cove Baits", **facts) -> Shop:
    return Shop.objects.get_or_create(id=1, defaults={"name": name, **facts})[0]


def make_user(name: str = "Wren Halloway", role: str = "owner") -> User:
    username = name.split()[0].lower()
    user = User(username=username, first_name=name, role=role)
    user.set_unusable_password()
    user.save()
    return user


def make_supplier(name: str = "Gray Heron Supply", **facts) -> Supplier:
    return Supplier.objects.get_or_create(name=name, defaults=facts)[0]


def make_item(kind: str = "colorant", name: str = "", stock_unit: str = "mL", **facts) -> Item:
    return Item.objects.create(
        kind=kind, name=name or f"{kind} {next(_numbers)}", stock_unit=stock_unit, **facts
    )


def make_plastisol(name: str = "Soft base", **facts) -> Item:
    return make_item("plastisol", name, density_g_per_ml=Decimal("1.03"), **facts)


def make_flake(name: str = "Ember flake", **facts) -> Item:
    facts = {"density_g_per_ml": Decimal("1.37"), "color": "#c8502a", **facts}
    return make_item("flake", name, "g", **facts)


def make_lot(
    item: Item, quantity=1000, cost=10, *, expires_on: date | None = None, on: date | None = None
) -> Lot:
    """A received lot of `quantity` stock units that cost `cost` currency units (None: unknown)."""
    arrival = receiving.Arrival(
        item, micro(quantity), None if cost is None else micro(cost), expires_on=expires_on
    )
    entry = receiving.receive(key=key(), arrivals=[arrival], received_on=on, by=None)
    return entry.movements.get().lot


def make_cup(number: int = 1, most_ml=400) -> Cup:
    return Cup.objects.create(number=number, least_ml=30, most_ml=Decimal(most_ml))


def make_bait(name: str = "Reed Eel", length_mm="100") -> Bait:
    return Bait.objects.get_or_create(name=name, defaults={"length_mm": Decimal(length_mm)})[0]


def make_mold(
    name: str = "Reed Eel four",
    *,
    bait: Bait | None = None,
    cavities: int = 4,
    bait_ml=5,
    shot_ml=26,
) -> Mold:
    mold = Mold.objects.create(name=name, shot_ml=Decimal(shot_ml))
    Cavity.objects.create(
        mold=mold, bait=bait or make_bait(), count=cavities, bait_ml=Decimal(bait_ml)
    )
    return mold


def make_recipe(
    name: str = "Marsh Lantern", *, grade: Item, doses: dict[Item, float]
) -> RecipeVersion:
    """A first version with doses in stock units per 100 mL of base, and its solid pattern."""
    recipe = Recipe.objects.create(name=name)
    version = RecipeVersion.objects.create(
        recipe=recipe, number=1, grade=grade, reference_ml=100, reference_said="100 mL"
    )
    for item, amount in doses.items():
        Dose.objects.create(
            version=version,
            item=item,
            amount=Decimal(str(amount)),
            unit=item.stock_unit,
            quantity=micro(amount),
        )
    pattern = Pattern.objects.create(name=name)
    Layer.objects.create(pattern=pattern, position=1, version=version, share=1_000_000)
    return version


def make_laminate(name: str, versions: list[RecipeVersion], shares: list[int]) -> Pattern:
    pattern = Pattern.objects.create(name=name)
    sides = ["top", "below"] if len(versions) == 2 else ["top", "middle", "below"]
    for position, (version, share, side) in enumerate(
        zip(versions, shares, sides, strict=True), start=1
    ):
        Layer.objects.create(
            pattern=pattern, position=position, version=version, share=share, side=side
        )
    return pattern


def make_pour(on: date | None = None) -> Pour:
    now = timezone.now()
    return Pour.objects.create(business_date=on or timezone.localdate(), started_at=now)
