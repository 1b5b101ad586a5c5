"""The shelf: items, lots and the append-only ledger.

Quantities, compositions and costs are whole millionths in big-integer columns: of the item's stock unit,
or of the currency unit. A decimal column is a float in SQLite; integers sum exactly on both databases.
Prices are in the currency's minor unit (cents).
"""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from inventory import units

hex_color = RegexValidator(
    r"^#[0-9a-fA-F]{6}$", "Write the color as # and six hex digits: #3a5f2b."
)
POSITIVE = MinValueValidator(Decimal("0.000001"))


class Supplier(models.Model):
    name = models.CharField(max_length=120, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    lead_time_days = models.PositiveSmallIntegerField(default=7)
    order_minimum_minor = models.PositiveBigIntegerField(default=0)
    shipping_minor = models.PositiveBigIntegerField(default=0)
    #: Goods for this sum ship free; 0: never.
    free_shipping_minor = models.PositiveBigIntegerField(default=0)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Place(models.Model):
    class Kind(models.TextChoices):
        SHELF = "shelf", "shelf"
        BIN = "bin", "bin"
        STALL = "stall", "stall"
        CONSIGNEE = "consignee", "consignee"

    #: Where bags are out of the house.
    AWAY = [Kind.STALL, Kind.CONSIGNEE]

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.SHELF)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ItemQuerySet(models.QuerySet):
    def current(self) -> "ItemQuerySet":
        return self.filter(archived=False)

    def with_on_hand(self) -> "ItemQuerySet":
        """Adds `on_hand` and `reserved` (millionths) summed over the lots: one query for any list."""
        return self.annotate(
            on_hand=models.functions.Coalesce(models.Sum("lots__on_hand"), 0),
            reserved=models.functions.Coalesce(models.Sum("lots__reserved"), 0),
        )


class Item(models.Model):
    """Anything stocked. Only the facts that its kind and units need are filled."""

    class Kind(models.TextChoices):
        PLASTISOL = "plastisol", "plastisol"
        COLORANT = "colorant", "colorant"
        FLAKE = "flake", "flake"
        ADDITIVE = "additive", "additive"
        PART = "part", "part"
        PACKAGING = "packaging", "packaging"
        WEAR_PART = "wear part", "wear part"
        LEFTOVER = "leftover", "leftover"
        LOOSE_BAIT = "loose bait", "loose bait"
        BAGGED = "bagged product", "bagged product"

    #: Kinds that are bought; the other three come out of the bench.
    BOUGHT = [
        Kind.PLASTISOL,
        Kind.COLORANT,
        Kind.FLAKE,
        Kind.ADDITIVE,
        Kind.PART,
        Kind.PACKAGING,
        Kind.WEAR_PART,
    ]
    #: Kinds that go into a mix by dose.
    DOSED = [Kind.COLORANT, Kind.FLAKE, Kind.ADDITIVE]

    class ColorKind(models.TextChoices):
        DYE = "dye", "dye (clear tint)"
        PIGMENT = "pigment", "pigment (hides)"
        PEARL = "pearl", "pearl"

    class FlakeShape(models.TextChoices):
        HEXAGON = "hexagon", "hexagon"
        SQUARE = "square", "square"
        STRIP = "strip", "strip"
        IRREGULAR = "irregular", "irregular"

    class HardnessScale(models.TextChoices):
        SHORE_00 = "shore 00", "Shore 00"
        SHORE_A = "shore A", "Shore A"
        OWN = "own", "the maker's own words"

    kind = models.CharField(max_length=16, choices=Kind)
    name = models.CharField(max_length=120)
    stock_unit = models.CharField(max_length=6, choices=[(u, u) for u in units.STOCK_UNITS])
    density_g_per_ml = models.DecimalField(
        "density (g/mL)",
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[POSITIVE, MaxValueValidator(25)],
    )
    ml_per_drop = models.DecimalField(
        "mL per drop",
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[POSITIVE, MaxValueValidator(1)],
    )
    g_per_tsp = models.DecimalField(
        "g per teaspoon",
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[POSITIVE, MaxValueValidator(150)],
    )
    color = models.CharField(max_length=7, blank=True, validators=[hex_color])
    color_kind = models.CharField(max_length=8, choices=ColorKind, blank=True)
    #: Of things stocked by the piece: a hook, a bag, a card. Baits weigh what their plastic weighs.
    weight_g = models.DecimalField(
        "weight of one (g)",
        max_digits=9,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[POSITIVE, MaxValueValidator(Decimal(100_000))],
    )
    flake_size_in = models.DecimalField(
        "flake size (in)",
        max_digits=5,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[POSITIVE],
    )
    flake_shape = models.CharField(max_length=12, choices=FlakeShape, blank=True)
    hardness = models.CharField(
        max_length=40, blank=True, help_text="The number or word on the data sheet."
    )
    hardness_scale = models.CharField(max_length=10, choices=HardnessScale, blank=True)
    #: To a tenth, so that a limit written in whole °F reads back as it was written.
    heat_limit_c = models.DecimalField(
        "heat limit (°C)", max_digits=5, decimal_places=1, null=True, blank=True
    )
    melt_limit = models.PositiveSmallIntegerField("most melts", null=True, blank=True)
    shelf_life_days = models.PositiveSmallIntegerField("shelf life (days)", null=True, blank=True)
    hazards = models.TextField(blank=True, help_text="In the words of its safety data sheet.")
    minimum = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    target = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    place = models.ForeignKey(Place, null=True, blank=True, on_delete=models.SET_NULL)
    notes = models.TextField(blank=True)
    archived = models.BooleanField(default=False)
    #: Leftover items are one for each set of grades: "12" or, for a blend, "12+15". Empty otherwise.
    grades = models.CharField(max_length=120, blank=True, editable=False)

    objects = ItemQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "name"], name="item_name_once_per_kind"),
            models.UniqueConstraint(
                fields=["grades"], condition=~Q(grades=""), name="one_leftover_item_per_grade"
            ),
            models.CheckConstraint(
                condition=Q(minimum__gte=0, target__gte=0), name="item_levels_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def facts(self, lot: "Lot | None" = None) -> dict[str, Decimal | None]:
        """The figures `units.convert` takes; a lot's own drop size goes before the item's."""
        drop = lot.ml_per_drop if lot and lot.ml_per_drop else self.ml_per_drop
        return {
            "density_g_per_ml": self.density_g_per_ml,
            "ml_per_drop": drop,
            "g_per_tsp": self.g_per_tsp,
        }

    def to_stock(self, quantity: Decimal, unit: str, lot: "Lot | None" = None) -> int:
        """A quantity in any unit the item can convert, as millionths of its stock unit.

        Raises `units.UnitsError` naming the missing figure."""
        return units.to_micro(units.convert(quantity, unit, self.stock_unit, **self.facts(lot)))


class NamedMeasure(models.Model):
    """A measure of the hand that belongs to one item: its pinch, squirt or scoop, in stock units."""

    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="measures")
    name = models.CharField(max_length=30)
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["item", "name"], name="measure_named_once_per_item"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="measure_holds_something"),
        ]

    def __str__(self) -> str:
        return self.name


class StoredFile(models.Model):
    """A file as it was taken in: checked, and a picture drawn anew. Written by services/files.py."""

    #: Its name in the data folder; made by us, never the uploaded one.
    stored_as = models.CharField(max_length=80, unique=True)
    name = models.CharField(max_length=120)
    content_type = models.CharField(max_length=40)
    size = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    added_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    def __str__(self) -> str:
        return self.name

    @property
    def is_picture(self) -> bool:
        return self.content_type.startswith("image/")


class ItemFile(models.Model):
    """A safety data sheet or a picture kept with an item."""

    class Kind(models.TextChoices):
        DATA_SHEET = "data sheet", "safety data sheet"
        PICTURE = "picture", "picture"

    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="files")
    file = models.OneToOneField(StoredFile, on_delete=models.PROTECT, related_name="item_file")
    kind = models.CharField(max_length=12, choices=Kind)

    class Meta:
        ordering = ["kind", "-id"]


class Pack(models.Model):
    """One way to buy an item: so much of it, from one supplier, at a price."""

    item = models.ForeignKey(Item, on_delete=models.CASCADE, related_name="packs")
    supplier = models.ForeignKey(Supplier, on_delete=models.CASCADE, related_name="packs")
    name = models.CharField(max_length=60, help_text="As you would order it: 4 fl oz bottle.")
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveBigIntegerField()
    #: The fewest that the supplier sells at once.
    least = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["supplier__name", "quantity"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="pack_holds_something"),
            models.UniqueConstraint(fields=["item", "supplier", "name"], name="pack_once"),
        ]

    def __str__(self) -> str:
        return f"{self.name} · {self.supplier}"


class PackBreak(models.Model):
    """From so many packs on, each of them costs this."""

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="breaks")
    from_packs = models.PositiveIntegerField(validators=[MinValueValidator(2)])
    price_minor = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["from_packs"]
        constraints = [
            models.UniqueConstraint(fields=["pack", "from_packs"], name="pack_break_once")
        ]


class LotQuerySet(models.QuerySet):
    def in_stock(self) -> "LotQuerySet":
        return self.filter(on_hand__gt=0)

    def first_expiring_first(self) -> "LotQuerySet":
        """The order of drawing: first expiring, then first in."""
        return self.order_by(F("expires_on").asc(nulls_last=True), "received_on", "id")

    def at_home(self) -> "LotQuerySet":
        """Not at a stall or with a consignee: these bags are ours, but not at hand."""
        return self.exclude(place__kind__in=Place.AWAY)

    def free(self) -> "LotQuerySet":
        """With something that can be held, promised or sent: at home, on no hold, not all reserved."""
        # In stock is implied, but tells the database to pass over all lots that are used up.
        return self.in_stock().at_home().filter(held=False, on_hand__gt=F("reserved"))


class Lot(models.Model):
    """A quantity of one item with one origin: a received bottle, a batch, a batch's baits or bags."""

    class Form(models.TextChoices):
        PACK = "pack", "pack"
        LIQUID = "liquid", "in a cup"
        PUCK = "puck", "puck"
        TRIM = "trim", "trim"
        LOOSE = "loose", "loose"
        BAG = "bag", "bagged"

    #: In a lot's number, between the code that is printed on it and the count of its moves.
    MOVED = "/m"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    number = models.CharField(max_length=40, unique=True)
    supplier = models.ForeignKey(
        Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="lots"
    )
    supplier_lot = models.CharField(max_length=60, blank=True)
    form = models.CharField(max_length=8, choices=Form, default=Form.PACK)
    place = models.ForeignKey(Place, null=True, blank=True, on_delete=models.SET_NULL)
    received_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    ml_per_drop = models.DecimalField(
        max_digits=9, decimal_places=6, null=True, blank=True, validators=[POSITIVE]
    )
    #: 1 as bought; old mL ÷ new mL once thinned.
    strength = models.DecimalField(max_digits=9, decimal_places=6, default=1, validators=[POSITIVE])
    #: How often the plastic in it was made liquid; 0 for anything never melted.
    melts = models.PositiveSmallIntegerField(default=0)
    found = models.BooleanField(default=False)
    count_me = models.BooleanField(default=False)
    #: On hold (`LotHold` says why): can't be bagged, reserved, moved or shipped.
    held = models.BooleanField("on hold", default=False)
    # Kept beside the lot, always the sum of its movements. Written by services/ledger.py alone.
    on_hand = models.BigIntegerField(default=0)
    made = models.BigIntegerField(default=0)
    #: Millionths of the currency unit for what is on hand; null: unknown.
    cost = models.BigIntegerField(null=True, default=0)
    reserved = models.BigIntegerField(default=0)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-id"]
        indexes = [
            models.Index(fields=["item", "on_hand"]),
            # Since when an item has been here: read without its lots of all years.
            models.Index(fields=["item", "received_on"], name="lot_arrivals"),
            # What lies on the shelf and what is to be counted: found without the lots that are used up.
            models.Index(
                fields=["item", "received_on", "on_hand"],
                name="lots_in_stock",
                condition=Q(on_hand__gt=0),
            ),
            models.Index(fields=["item"], name="lots_to_count", condition=Q(count_me=True)),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="lot_never_below_zero"),
            models.CheckConstraint(
                condition=Q(reserved__gte=0) & Q(reserved__lte=F("on_hand")),
                name="reserved_within_on_hand",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved

    @property
    def printed(self) -> str:
        """The code on its bags or bottle: a moved part keeps that of the lot it was taken from."""
        return self.number.partition(self.MOVED)[0]

    @property
    def was_moved(self) -> bool:
        return self.MOVED in self.number

    @property
    def can_be_held(self) -> bool:
        """Not on hold and not out of the house."""
        return not self.held and not (self.place and self.place.kind in Place.AWAY)

    def drawing_order(self) -> tuple:
        """As `LotQuerySet.first_expiring_first` sorts."""
        return (
            self.expires_on is None,
            self.expires_on or self.received_on,
            self.received_on,
            self.pk,
        )


class LotNumber(models.Model):
    """The last number given out under each prefix; its row is the lock that keeps numbers unique."""

    prefix = models.CharField(max_length=20, primary_key=True)
    last = models.PositiveIntegerField(default=0)


class Reservation(models.Model):
    """A part of a lot held for something, named in text: the shelf knows no orders."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="reservations")
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])
    holder = models.CharField(max_length=60, db_index=True)
    created_at = models.DateTimeField(auto_now_add=True)


class LotHold(models.Model):
    """A lot put on hold, as in a recall: why, by whom, until when."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="holds")
    reason = models.CharField(max_length=300)
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot"], condition=Q(released_at=None), name="one_hold_at_a_time"
            )
        ]


class AppendOnlyError(Exception):
    """The ledger is append-only: a mistake is mended by a reversal, never by an edit."""


class AppendOnlyQuerySet(models.QuerySet):
    def update(self, **kwargs) -> int:
        raise AppendOnlyError("Ledger rows are never changed.")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise AppendOnlyError("Ledger rows are never deleted.")


class AppendOnly(models.Model):
    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args, **kwargs) -> None:
        if not self._state.adding:
            raise AppendOnlyError("Ledger rows are never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs) -> tuple[int, dict[str, int]]:
        raise AppendOnlyError("Ledger rows are never deleted.")


class Entry(AppendOnly):
    """One posted event."""

    class Kind(models.TextChoices):
        OPENING = "opening", "opening shelf"
        RECEIPT = "receipt", "receipt"
        BATCH = "batch", "batch"
        SHOTS = "shots", "shots"
        BAGGING = "bagging", "bagging"
        SHIPMENT = "shipment", "shipment"
        COUNT = "count", "count"
        WASTE = "waste", "waste"
        REVERSAL = "reversal", "reversal"
        THINNING = "thinning", "thinning"
        ADDITION = "addition", "addition"
        SORTING = "sorting", "sorting"
        REVALUATION = "revaluation", "revaluation"
        MOVE = "move", "move"
        SALE = "sale", "sale"
        RETURN = "return", "return"
        GIFT = "given away", "given away"
        OWN_USE = "own use", "own use"

    kind = models.CharField(max_length=12, choices=Kind)
    key = models.CharField(max_length=60, unique=True)
    digest = models.CharField(max_length=64)
    happened_at = models.DateTimeField(db_index=True)
    posted_at = models.DateTimeField(auto_now_add=True)
    business_date = models.DateField(db_index=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    title = models.CharField(max_length=200)
    note = models.TextField(blank=True)
    #: What stands behind it, as "kind:id": "order:12". Resolved by inventory/references.py.
    reference = models.CharField(max_length=60, blank=True, db_index=True)
    #: mL of base, in millionths, that this event threw away.
    wasted = models.BigIntegerField(default=0)
    #: Why someone should look at it: it was answered "yes, really".
    look_at = models.CharField(max_length=300, blank=True)
    reverses = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="reversed_by"
    )
    #: The entry that this one was written in place of (rule 9); that one is also reversed.
    amends = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="amended_by"
    )

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "entries"

    def __str__(self) -> str:
        return self.title


class Movement(AppendOnly):
    """One signed line of an entry: this lot, this quantity, this cost."""

    class Role(models.TextChoices):
        MADE = "made", "made"  # gives the lot content: received or produced
        DRAWN = "drawn", "drawn"  # taken from the lot by the event
        COUNTED = "counted", "counted"  # a count's difference
        FOUND = "found", "found"  # the bench used more than the ledger knew of
        RETURNED = "returned", "returned"  # came back after it had left

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="movements")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    role = models.CharField(max_length=8, choices=Role)
    quantity = models.BigIntegerField()
    cost = models.BigIntegerField(null=True)
    #: mL of base, in millionths, that a made line holds: its share of the mix. 0 where there is no base.
    base = models.BigIntegerField(default=0)
    #: The amount in the words of whoever entered it: "12 drops".
    said = models.CharField(max_length=60, blank=True)
    estimated = models.BooleanField(default=False)
    #: Of a returned line: the line by which it had left the lot.
    returns = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="returned_by", db_index=False
    )
    #: The line whose value this one corrects, after an amended entry changed what came before it.
    revalues = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="revaluations", db_index=False
    )

    class Meta:
        ordering = ["id"]
        # Nearly every line returns and corrects nothing: with those in an index, SQLite would walk all
        # lines of the ledger by it whenever "corrects nothing" is asked.
        indexes = [
            models.Index(fields=["lot", "id"]),
            models.Index(
                fields=["returns"], condition=Q(returns__isnull=False), name="lines_that_return"
            ),
            models.Index(
                fields=["revalues"], condition=Q(revalues__isnull=False), name="lines_that_correct"
            ),
        ]


class Content(AppendOnly):
    """What one made line brought into its lot: the composition, line by line.

    A lot's composition is the sum over its made lines; a share of the lot holds that share of it."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="contents")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="contents")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    quantity = models.BigIntegerField()

    class Meta:
        indexes = [models.Index(fields=["lot", "item"])]


class PurchaseOrder(models.Model):
    """What was ordered from one supplier at once."""

    class State(models.TextChoices):
        OPEN = "open", "on its way"
        RECEIVED = "received", "received"
        CANCELLED = "cancelled", "cancelled"

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    number = models.CharField(max_length=20, unique=True)
    #: The one-time key of the form that made it.
    key = models.CharField(max_length=60, unique=True, editable=False)
    ordered_on = models.DateField()
    expected_on = models.DateField()
    state = models.CharField(max_length=10, choices=State, default=State.OPEN, db_index=True)
    shipping_minor = models.PositiveBigIntegerField(default=0)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["-ordered_on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expected_on__gte=F("ordered_on")), name="purchase_comes_after_its_order"
            )
        ]

    def __str__(self) -> str:
        return self.number


class PurchaseLine(models.Model):
    """So many packs of one item, as ordered. A pack that is forgotten later leaves its name and size."""

    order = models.ForeignKey(PurchaseOrder, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="purchase_lines")
    pack = models.ForeignKey(
        Pack, null=True, blank=True, on_delete=models.SET_NULL, related_name="purchase_lines"
    )
    pack_name = models.CharField(max_length=60)
    pack_quantity = models.BigIntegerField(validators=[MinValueValidator(1)])
    packs = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    #: The price of one pack as ordered.
    price_minor = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(packs__gt=0, pack_quantity__gt=0), name="purchase_line_orders_something"
            )
        ]

    @property
    def quantity(self) -> int:
        return self.packs * self.pack_quantity

    @property
    def sum_minor(self) -> int:
        return self.packs * self.price_minor

    @property
    def still_to_come(self) -> int:
        """Of a line with what was `received`; never less than nothing."""
        return max(0, self.quantity - self.received)


class PurchaseReceipt(models.Model):
    """A lot that came on a purchase line, with the entry that brought it in.

    What came is the lot's total in, so that an undone or mended receipt counts as it stands;
    `quantity` is what was written down when it came."""

    line = models.ForeignKey(PurchaseLine, on_delete=models.PROTECT, related_name="receipts")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="purchase_receipts")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="purchase_receipt")
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
