"""Writing down the demo shop's things: suppliers, items, cups, molds, recipes, products, customers."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory import units
from inventory.models import Item, Pack, Place, Supplier
from inventory.services import catalog as shelf_catalog
from inventory.services import named_measures, purchasing, receiving, suppliers
from production.models import Bait, Mold, Pattern, RecipeVersion
from production.services import gear, molds, products, recipes, service
from shop.demo import catalog, orders, shelf
from shop.models import Customer

CENT = units.MICRO // 100


def stock_shelf() -> None:
    """Suppliers, places, items and their packs."""
    sellers = {facts["name"]: suppliers.add_supplier(**facts) for facts in shelf.SUPPLIERS}
    for stocked in shelf.ITEMS:
        item = shelf_catalog.add_item(
            kind=stocked.kind,
            name=stocked.name,
            stock_unit=stocked.stock_unit,
            minimum=stocked.minimum * units.MICRO,
            target=stocked.target * units.MICRO,
            place=Place.objects.get_or_create(name=stocked.place)[0],
            **{
                name: Decimal(fact) if name in _FIGURES else fact
                for name, fact in stocked.facts.items()
            },
        )
        for sold in stocked.packs:
            suppliers.add_pack(
                item=item,
                supplier=sellers[sold.supplier],
                name=sold.name,
                quantity=item.to_stock(Decimal(sold.amount), sold.unit),
                price_minor=sold.price,
                breaks=sold.breaks,
            )
    for name, measure, holds in shelf.MEASURES:
        named_measures.add(
            item=Item.objects.get(name=name), name=measure, quantity=units.to_micro(holds)
        )


_FIGURES = ("density_g_per_ml", "ml_per_drop", "g_per_tsp", "flake_size_in", "heat_limit_c")


def opening_arrivals(on: date) -> list[receiving.Arrival]:
    """What lay on the shelf: part of a first pack each, at that part of its price."""
    arrivals = []
    for stocked in shelf.ITEMS:
        pack = Pack.objects.get(
            item__name=stocked.name,
            supplier__name=stocked.packs[0].supplier,
            name=stocked.packs[0].name,
        )
        for number, left in enumerate(stocked.opening, 1):
            share = units.to_micro(Decimal(left))
            quantity, cost = (
                whole * share // units.MICRO for whole in (pack.quantity, pack.price_minor * CENT)
            )
            keeps = shelf.OPENED_KEEPS if stocked.kind == Item.Kind.PLASTISOL else None
            arrivals.append(
                _arrival(pack, quantity, cost, f"{_number(stocked.name)}-{number}", on, keeps)
            )
    return arrivals


def bought_arrivals(lines: list[tuple], on: date, supplier: str) -> list[receiving.Arrival]:
    """Whole packs as invoiced on a day."""
    arrivals = []
    for item, name, count, expires_in in lines:
        pack = Pack.objects.get(item__name=item, supplier__name=supplier, name=name)
        cost = pack.price_minor * count * CENT
        code = f"{_number(item)}-{on:%j}"
        arrivals.append(_arrival(pack, pack.quantity * count, cost, code, on, expires_in))
    return arrivals


def order_goods(key: str, supplier: str, lines: list[tuple], on: date) -> None:
    """An order that was sent on a day, at the prices of its packs."""
    seller = Supplier.objects.get(name=supplier)
    packs = [
        (Pack.objects.get(item__name=item, supplier=seller, name=name), count)
        for item, name, count in lines
    ]
    purchasing.order(
        key=key,
        supplier=seller,
        wanted=[purchasing.Wanted(pack, count, pack.price_minor) for pack, count in packs],
        ordered_on=on,
        shipping_minor=seller.shipping_minor,
    )


def set_service() -> None:
    """After how many shots the owner looks at a mold."""
    for name, every in catalog.SERVICE:
        service.set_interval(Mold.objects.get(name=name), every)


def _number(item: str) -> str:
    """The item's number in its supplier's list, as far as the demo knows."""
    return f"{[stocked.name for stocked in shelf.ITEMS].index(item) + 1:02d}"


def _arrival(
    pack: Pack, quantity: int, cost: int, code: str, on: date, keeps: int | None
) -> receiving.Arrival:
    initials = "".join(word[0] for word in pack.supplier.name.split()[:2])
    return receiving.Arrival(
        pack.item,
        quantity,
        cost,
        supplier=pack.supplier,
        supplier_lot=f"{initials}{code}",
        expires_on=on + timedelta(days=keeps) if keeps else None,
    )


def set_up_bench(written_at: datetime) -> None:
    """Scale, cups, injectors, baits, molds, recipes with their solid patterns, laminates, products."""
    gear.save_bench(
        hot_factor=Decimal(catalog.HOT_FACTOR),
        measured_on=written_at.date(),
        scale_step_g=Decimal(catalog.SCALE_STEP_G),
    )
    for name, count, holds, residue, bores, notes in catalog.INJECTORS:
        first, second = (Decimal(bore) for bore in bores) if bores else (None, None)
        gear.save_injector(
            name=name,
            barrels=count,
            barrel_ml=Decimal(holds),
            residue_ml=Decimal(residue),
            first_bore_mm=first,
            second_bore_mm=second,
            notes=notes,
        )
    for number, tare, least, most in catalog.CUPS:
        molds.save_cup(
            number=number, tare_g=Decimal(tare), least_ml=Decimal(least), most_ml=Decimal(most)
        )
    baits = {
        name: molds.save_bait(name=name, length_mm=Decimal(length), flat=flat)
        for name, length, flat in catalog.BAITS
    }
    for name, shot, minutes, cavities, part, notes in catalog.MOLDS:
        inlay = molds.Inlay(Item.objects.get(name=part)) if part else None
        molds.save_mold(
            name=name,
            shot_ml=Decimal(shot),
            minutes_per_cycle=Decimal(minutes),
            cavities=[
                molds.CavitySpec(baits[bait], count, Decimal(each), inlay)
                for bait, count, each in cavities
            ],
            notes=notes,
        )
    add_recipes(catalog.RECIPES, written_at)
    for name, layers in catalog.LAMINATES:
        specs = [
            recipes.LayerSpec(newest_version(recipe), share_percent=Decimal(percent))
            for recipe, percent in layers
        ]
        recipes.laminate(name=name, layers=specs)
    add_products(catalog.PRODUCTS)


def add_recipes(told: list[tuple], written_at: datetime) -> None:
    """Recipes with their solid patterns, as the catalog tells them."""
    for name, grade, (amount, unit), doses, notes in told:
        recipes.create(
            name=name,
            grade=Item.objects.get(name=grade),
            reference_amount=Decimal(amount),
            reference_unit=unit,
            doses=_doses(doses),
            notes=notes,
            written_at=written_at,
        )


def add_products(told: list[tuple]) -> None:
    """Bags, as the catalog tells them."""
    baits = {bait.name: bait for bait in Bait.objects.all()}
    for product in told:
        _make_product(baits, *product)


def newest_version(recipe: str) -> RecipeVersion:
    return RecipeVersion.objects.filter(recipe__name=recipe).order_by("-number").first()


def revise_recipe(
    recipe: str,
    reference: tuple[str, str],
    doses: list[tuple],
    notes: str,
    written_at: datetime,
) -> None:
    version = newest_version(recipe)
    recipes.revise(
        version,
        grade=version.grade,
        reference_amount=Decimal(reference[0]),
        reference_unit=reference[1],
        doses=_doses(doses),
        notes=notes,
        written_at=written_at,
    )


def add_customers() -> None:
    for facts in orders.CUSTOMERS:
        customer = Customer(**facts)
        customer.full_clean()
        customer.save()


def _doses(doses: list[tuple[str, str, str]]) -> list[recipes.DoseSpec]:
    return [
        recipes.DoseSpec(Item.objects.get(name=item), Decimal(amount), unit)
        for item, amount, unit in doses
    ]


def _make_product(
    baits: dict[str, Bait],
    name: str,
    contents: list[tuple],
    packaging: list[tuple],
    price: int,
    barcode: str,
    least_bags: int = 0,
) -> None:
    packed = [(Item.objects.get(name=item), units.to_micro(each)) for item, each in packaging]
    products.create(
        name=name,
        contents=[
            (baits[bait], Pattern.objects.get(name=pattern), count)
            for bait, pattern, count in contents
        ],
        packaging=packed,
        price_minor=price,
        barcode=barcode,
        least_bags=least_bags,
    )
