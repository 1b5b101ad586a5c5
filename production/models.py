"""The bench: cups, molds, recipes, patterns, products, pours and what they made.

Volumes of molds, baits and cups are in mL. Amounts of a dose are millionths of its item's stock unit
for the version's reference volume of base plastisol.
"""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from inventory.models import Entry, Item, Lot, StoredFile

POSITIVE = MinValueValidator(Decimal("0.001"))
LARGEST_ML = MaxValueValidator(Decimal(100_000))
LARGEST_MM = MaxValueValidator(Decimal(2000))
NUDGE = [MinValueValidator(Decimal(-20)), MaxValueValidator(Decimal(20))]
WHOLE_SHARE = 1_000_000


def _ml(label: str, **options) -> models.DecimalField:
    return models.DecimalField(
        label, max_digits=9, decimal_places=3, validators=[POSITIVE, LARGEST_ML], **options
    )


def _mm(label: str, **options) -> models.DecimalField:
    least = MinValueValidator(Decimal(0))
    return models.DecimalField(
        label, max_digits=6, decimal_places=2, validators=[least, LARGEST_MM], **options
    )


class Bench(models.Model):
    """How this shop measures at the bench (its primary key is always 1)."""

    #: Volume at room temperature ÷ volume read hot. From memory; the two-minute guide measures it.
    hot_factor = models.DecimalField(
        max_digits=4,
        decimal_places=3,
        default=Decimal("0.910"),
        validators=[MinValueValidator(Decimal("0.700")), MaxValueValidator(Decimal("1.000"))],
    )
    hot_factor_measured_on = models.DateField(null=True, blank=True)
    #: The smallest step that the scale shows.
    scale_step_g = models.DecimalField(
        "scale step (g)",
        max_digits=6,
        decimal_places=3,
        default=Decimal("0.1"),
        validators=[POSITIVE, MaxValueValidator(Decimal(10))],
    )

    # What the plan of an evening counts with; the owner's own figures.
    evening_minutes = models.PositiveSmallIntegerField("minutes in an evening", default=180)
    mixing_minutes = models.DecimalField(
        "minutes to heat and dose a batch",
        max_digits=5,
        decimal_places=1,
        default=Decimal(12),
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(240))],
    )
    heel_ml = models.DecimalField(
        "stays in cup and injector (mL)",
        max_digits=6,
        decimal_places=1,
        default=Decimal(10),
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(1000))],
    )
    wash_cost_minor = models.PositiveIntegerField("cost of washing a cup", default=50)
    cold_cost_minor = models.PositiveIntegerField("cost of heating cold plastic", default=10)
    most_melts = models.PositiveSmallIntegerField(
        "most melts, where no data sheet says", default=5, validators=[MinValueValidator(1)]
    )
    #: How far above its dose a leftover may be, in per cent.
    colorant_tolerance = models.PositiveSmallIntegerField(
        "colorant may be over by (%)", default=5, validators=[MaxValueValidator(100)]
    )
    flake_tolerance = models.PositiveSmallIntegerField(
        "flake may be over by (%)", default=25, validators=[MaxValueValidator(200)]
    )

    # What a promise counts with, also the owner's own.
    #: ISO weekdays on which the shop pours: "24" is Tuesday and Thursday.
    pour_weekdays = models.CharField(
        "evenings at the bench",
        max_length=7,
        default="24",
        validators=[RegexValidator(r"^[1-7]{1,7}$", "Digits 1 (Monday) to 7 (Sunday), as in 24.")],
    )
    cure_hours = models.PositiveSmallIntegerField(
        "hours from demolding to the bag", default=24, validators=[MaxValueValidator(720)]
    )
    packing_days = models.PositiveSmallIntegerField(
        "days for bagging and packing", default=0, validators=[MaxValueValidator(30)]
    )
    hand_minutes = models.DecimalField(
        "minutes of hand work a shot",
        max_digits=4,
        decimal_places=1,
        default=Decimal(1),
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(60))],
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="one_bench")]

    @classmethod
    def ours(cls) -> "Bench":
        """The one row, or its defaults while nobody has measured anything."""
        return cls.objects.filter(pk=1).first() or cls(pk=1)


class Serviced(models.Model):
    """A tool that wears with every shot: after so many its owner wants to look at it."""

    #: Null: nobody asked.
    service_every_shots = models.PositiveIntegerField(
        "service after so many shots", null=True, blank=True, validators=[MinValueValidator(1)]
    )
    #: Shots after it count; null: all of them.
    serviced_at = models.DateTimeField("last serviced", null=True, blank=True)

    class Meta:
        abstract = True


class Cup(Serviced):
    number = models.PositiveSmallIntegerField(unique=True)
    tare_g = models.DecimalField(
        "empty weight (g)",
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[POSITIVE],
    )
    least_ml = _ml("least fill (mL)", default=Decimal(30))
    most_ml = _ml("largest fill (mL)", default=Decimal(400))
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"Cup {self.number}"


class Injector(Serviced):
    """One or two barrels, and what stays behind in them after a shot."""

    name = models.CharField(max_length=80, unique=True)
    barrels = models.PositiveSmallIntegerField(
        choices=[(1, "one barrel"), (2, "two barrels")], default=1
    )
    barrel_ml = _ml("one barrel (mL)")
    residue_ml = models.DecimalField(
        "stays behind in each barrel (mL)",
        max_digits=9,
        decimal_places=3,
        default=0,
        validators=[MinValueValidator(Decimal(0)), LARGEST_ML],
    )
    #: Two bores that differ set the shares of a laminate's layers; empty: the barrels are alike.
    first_bore_mm = models.DecimalField(
        "first bore (mm)",
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[POSITIVE],
    )
    second_bore_mm = models.DecimalField(
        "second bore (mm)",
        max_digits=6,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[POSITIVE],
    )
    notes = models.TextField(blank=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Bait(models.Model):
    name = models.CharField(max_length=80, unique=True)
    length_mm = models.DecimalField(
        "length (mm)", max_digits=6, decimal_places=1, validators=[POSITIVE]
    )
    flat = models.BooleanField("flat: one side must be up", default=False)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Mold(Serviced):
    name = models.CharField(max_length=80, unique=True)
    copies = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    minutes_per_cycle = models.DecimalField(
        max_digits=5, decimal_places=1, default=6, validators=[POSITIVE]
    )
    shot_ml = _ml("one shot (mL)")
    notes = models.TextField(blank=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Cavity(models.Model):
    """The cavities of one bait in a mold."""

    mold = models.ForeignKey(Mold, on_delete=models.CASCADE, related_name="cavities")
    bait = models.ForeignKey(Bait, on_delete=models.PROTECT, related_name="cavities")
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    bait_ml = _ml("one bait (mL)")
    #: What lies in each cavity before the shot: a hook, a rattle.
    part = models.ForeignKey(
        Item, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    parts_each = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "cavities"
        constraints = [models.UniqueConstraint(fields=["mold", "bait"], name="bait_once_per_mold")]


class MoldPicture(models.Model):
    mold = models.ForeignKey(Mold, on_delete=models.CASCADE, related_name="pictures")
    file = models.OneToOneField(StoredFile, on_delete=models.PROTECT, related_name="mold_picture")

    class Meta:
        ordering = ["-id"]


class Recipe(models.Model):
    name = models.CharField(max_length=80, unique=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class RecipeVersion(models.Model):
    """Doses for a reference volume of base. Never edited once `frozen_at` is set (rule 6)."""

    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    grade = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    reference_ml = models.DecimalField(max_digits=12, decimal_places=6, validators=[POSITIVE])
    reference_said = models.CharField(max_length=30, help_text="As said: 1 US cup, 100 mL.")
    notes = models.TextField(blank=True)
    written_at = models.DateTimeField(default=timezone.now)
    frozen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["recipe__name", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["recipe", "number"], name="version_number_once")
        ]

    def __str__(self) -> str:
        return f"{self.recipe} v{self.number}"


class Dose(models.Model):
    """One dose: as said (amount, unit), and in the stock unit as it was understood that day."""

    version = models.ForeignKey(RecipeVersion, on_delete=models.CASCADE, related_name="doses")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    amount = models.DecimalField(max_digits=12, decimal_places=6, validators=[POSITIVE])
    unit = models.CharField(max_length=8)
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["version", "item"], name="item_once_per_recipe")
        ]


class DoseStandIn(models.Model):
    """A flake that may replace the dose's own, unit for unit, as the recipe's author allows."""

    dose = models.ForeignKey(Dose, on_delete=models.CASCADE, related_name="stand_ins")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["dose", "item"], name="stand_in_once")]


class Pattern(models.Model):
    """What the customer calls a color: one recipe, or two to three in layers."""

    name = models.CharField(max_length=80, unique=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Layer(models.Model):
    class Side(models.TextChoices):
        WHOLE = "whole", "whole bait"
        TOP = "top", "back, up"
        MIDDLE = "middle", "middle"
        BELOW = "below", "belly, down"

    pattern = models.ForeignKey(Pattern, on_delete=models.CASCADE, related_name="layers")
    position = models.PositiveSmallIntegerField()
    version = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, related_name="layers")
    #: Millionths of the bait's volume; a pattern's layers sum to one whole.
    share = models.PositiveIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(WHOLE_SHARE)]
    )
    side = models.CharField(max_length=8, choices=Side, default=Side.WHOLE)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["pattern", "position"], name="layer_position_once")
        ]


class LooseBait(models.Model):
    """The stocked item of one bait in one pattern, good or second."""

    bait = models.ForeignKey(Bait, on_delete=models.PROTECT, related_name="loose")
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="loose")
    second = models.BooleanField(default=False)
    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="loose_bait")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["bait", "pattern", "second"], name="one_item_per_loose_bait"
            )
        ]


class Product(models.Model):
    """So many baits to a bag, with its packaging, price and barcode number."""

    item = models.OneToOneField(Item, on_delete=models.PROTECT, related_name="product")
    price_minor = models.PositiveBigIntegerField()
    barcode = models.CharField(max_length=14, blank=True)
    #: Bagged from seconds, at its own price.
    second = models.BooleanField("bag of seconds", default=False)
    # What the package says (a checklist, not legal advice).
    #: What it is, in a shopper's words; empty: not said.
    identity = models.CharField("what it is", max_length=80, blank=True)
    origin = models.CharField("country of origin", max_length=60, blank=True)
    child_directed = models.BooleanField("made or sold for children", default=False)
    #: The front of the package (of its header card, if it has one); null: not measured.
    front_w_mm = _mm("width of the front (mm)", null=True, blank=True)
    front_h_mm = _mm("height of the front (mm)", null=True, blank=True)
    #: The owner's own wording; nothing is printed by default.
    warning = models.TextField("warning", max_length=600, blank=True)
    warning_on = models.DateField("wording of", null=True, blank=True)

    class Meta:
        ordering = ["item__name"]
        constraints = [
            models.UniqueConstraint(
                fields=["barcode"], condition=~Q(barcode=""), name="barcode_once"
            )
        ]

    def __str__(self) -> str:
        return self.item.name


class ProductContent(models.Model):
    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="contents")
    bait = models.ForeignKey(Bait, on_delete=models.PROTECT, related_name="+")
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="+")
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["product", "bait", "pattern"], name="content_once")
        ]


class ProductPackaging(models.Model):
    """What one bag takes besides baits: bag, label, card, scent oil."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="packaging")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    quantity = models.BigIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["product", "item"], name="packaging_once")]


class FinishingStep(models.Model):
    """Work on the baits of one bag before it is bagged: trim, dip, eyes, rattles, skirts."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="finishing")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)
    minutes = models.DecimalField(
        "minutes a bag",
        max_digits=6,
        decimal_places=2,
        default=0,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(1440))],
    )
    item = models.ForeignKey(
        Item, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    #: Millionths of the item's stock unit for one bag.
    quantity = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["position", "id"]


class LabelSheet(models.Model):
    """A sheet or roll of labels of the shop's own, by its measures (production/label_stock.py)."""

    name = models.CharField(max_length=60, unique=True)
    page_w_mm = _mm("page width (mm)")
    page_h_mm = _mm("page height (mm)")
    rows = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    columns = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    label_w_mm = _mm("label width (mm)")
    label_h_mm = _mm("label height (mm)")
    left_mm = _mm("left margin (mm)", default=0)
    top_mm = _mm("top margin (mm)", default=0)
    gap_x_mm = _mm("gap across (mm)", default=0)
    gap_y_mm = _mm("gap down (mm)", default=0)
    radius_mm = _mm("corner radius (mm)", default=0)
    #: Dots per inch of a thermal printer; null: an office printer.
    dpi = models.PositiveSmallIntegerField("printer's dots per inch", null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Printer(models.Model):
    """A printer and how far it prints off: measured on the test page."""

    name = models.CharField(max_length=60, unique=True)
    right_mm = models.DecimalField(
        "move right (mm)", max_digits=4, decimal_places=1, default=0, validators=NUDGE
    )
    down_mm = models.DecimalField(
        "move down (mm)", max_digits=4, decimal_places=1, default=0, validators=NUDGE
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class LabelTemplate(models.Model):
    """Which parts one kind of label shows on one stock, and how large."""

    class Kind(models.TextChoices):
        BAG = "bag", "bag label"
        HEADER = "header", "header card"
        LID = "lid", "lid of a leftover"
        SHELF = "shelf", "shelf label of a lot"
        MAILING = "mailing", "mailing label"

    name = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.BAG)
    #: A key of label_stock's layouts, or "own:" and a LabelSheet's number.
    stock = models.CharField(max_length=60)
    #: Part → its size, as production/label_template.py understands it.
    parts = models.JSONField(default=dict)
    #: What a new product's labels take.
    usual = models.BooleanField("the usual one", default=False)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind"], condition=Q(usual=True), name="one_usual_template_per_kind"
            )
        ]

    def __str__(self) -> str:
        return self.name


class PrintJob(models.Model):
    """Labels that were sent to print: what, how many, when, by whom."""

    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT)
    kind = models.CharField(max_length=8, choices=LabelTemplate.Kind)
    stock = models.CharField(max_length=60)
    start = models.PositiveSmallIntegerField(default=1)
    #: Null: the usual parts.
    template = models.ForeignKey(
        LabelTemplate, null=True, on_delete=models.SET_NULL, related_name="jobs"
    )
    printer = models.ForeignKey(Printer, null=True, on_delete=models.SET_NULL, related_name="jobs")
    #: The job that this one prints again.
    again = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="reprints")

    class Meta:
        ordering = ["-id"]


class PrintJobLine(models.Model):
    job = models.ForeignKey(PrintJob, on_delete=models.CASCADE, related_name="lines")
    #: What the label is for: its lot, or for mailing labels the text of `what`.
    lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT, related_name="prints")
    what = models.CharField(max_length=160)
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]


class Pour(models.Model):
    """One evening at the bench; it keeps the date on which it began."""

    business_date = models.DateField(db_index=True)
    started_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    # What was asked at closing time.
    purged = models.BooleanField("injector purged", default=False)
    seals_checked = models.BooleanField("seals checked", default=False)
    molds_dry = models.BooleanField("molds dry", default=False)
    note = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT)

    class Meta:
        ordering = ["-business_date", "-id"]

    def __str__(self) -> str:
        return f"Pour of {self.business_date:%d %b %Y}"


class Plan(models.Model):
    """An evening thought through beforehand: what to make, in which order, from what."""

    made_at = models.DateTimeField(auto_now=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT)
    #: What was asked for, as the planner's form keeps it (production/planning.py).
    wishes = models.JSONField(default=list)
    #: Keys of the batches in the order the person gave; empty: the planner's own.
    order = models.JSONField(default=list)
    #: Keys of the batches that keep their place.
    locked = models.JSONField(default=list)
    #: The plan as computed, for the page and for comparing it with what was poured.
    outcome = models.JSONField(default=dict)
    pour = models.OneToOneField(
        Pour, null=True, blank=True, on_delete=models.PROTECT, related_name="plan"
    )

    class Meta:
        ordering = ["-id"]


class PlannedBatch(models.Model):
    """A batch of a plan: it waits at the bench until it is mixed."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="batches")
    position = models.PositiveSmallIntegerField()
    key = models.CharField(max_length=80)
    version = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, related_name="+")
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="+")
    #: Millionths of a mL of base.
    base = models.BigIntegerField(validators=[MinValueValidator(1)])
    #: What goes in, what is shot and what it should cost, as the plan's outcome has it.
    detail = models.JSONField(default=dict)
    batch = models.OneToOneField(
        "Batch", null=True, blank=True, on_delete=models.PROTECT, related_name="planned"
    )

    class Meta:
        ordering = ["plan", "position"]
        verbose_name_plural = "planned batches"
        constraints = [
            models.UniqueConstraint(fields=["plan", "position"], name="plan_position_once")
        ]


class Batch(models.Model):
    """One liquid mix: a lot kept in mL of base from its first pour-in.

    Its `entry` is the mix as it stands now: an amended mix is a new entry on the same row. Additions
    are entries of their own that make the same lot."""

    class Verdict(models.TextChoices):
        PALE = "pale", "pale"
        RIGHT = "right", "right"
        DARK = "dark", "dark"

    class Settled(models.TextChoices):
        KEPT = "keep", "kept in its cup"
        PUCK = "puck", "set aside"
        THROWN = "throw", "thrown away"

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="batches")
    number = models.PositiveSmallIntegerField()
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="batch")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="batch")
    version = models.ForeignKey(
        RecipeVersion, null=True, on_delete=models.PROTECT, related_name="batches"
    )
    cup = models.ForeignKey(Cup, null=True, blank=True, on_delete=models.PROTECT)
    #: Total volume of what was mixed (base, liquid additions, solids by density), millionths of a mL.
    total = models.BigIntegerField()
    #: "That's it": no more additions are expected.
    mixed_at = models.DateTimeField(null=True, blank=True)
    #: Null: nobody said.
    degassed = models.BooleanField(null=True, blank=True)
    verdict = models.CharField(max_length=8, choices=Verdict, blank=True)
    #: What became of what was left; empty while its cup has not been asked for.
    settled = models.CharField(max_length=8, choices=Settled, blank=True)

    class Meta:
        ordering = ["pour", "number"]
        verbose_name_plural = "batches"
        constraints = [models.UniqueConstraint(fields=["pour", "number"], name="batch_number_once")]

    def __str__(self) -> str:
        return f"Batch {self.number}: {self.version.recipe if self.version else 'free hand'}"


class Heat(models.Model):
    """One warming of a batch: a reheat, never a melt."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="heats")
    key = models.CharField(max_length=60, unique=True)
    started_at = models.DateTimeField()
    minutes = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    peak_c = models.DecimalField("peak (°C)", max_digits=5, decimal_places=1, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    look_at = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT)

    class Meta:
        ordering = ["started_at", "id"]


class Shots(models.Model):
    """So many fills of one mold, logged together."""

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="shots")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="shots")
    mold = models.ForeignKey(Mold, on_delete=models.PROTECT, related_name="shots")
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, related_name="shots")
    #: One batch for a solid; for a laminate one for each layer.
    batches = models.ManyToManyField(Batch, related_name="shots")
    trim_lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT, related_name="+")
    #: Null: poured by hand.
    injector = models.ForeignKey(
        Injector, null=True, blank=True, on_delete=models.PROTECT, related_name="shots"
    )
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "shots"


class ShotResult(models.Model):
    """What one bait's cavities gave in those shots."""

    shots = models.ForeignKey(Shots, on_delete=models.PROTECT, related_name="results")
    bait = models.ForeignKey(Bait, on_delete=models.PROTECT, related_name="results")
    cavities = models.PositiveIntegerField()
    good = models.PositiveIntegerField()
    seconds = models.PositiveIntegerField(default=0)
    rejects = models.PositiveIntegerField(default=0)
    good_lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT, related_name="+")
    second_lot = models.ForeignKey(Lot, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]


class RejectReason(models.TextChoices):
    SHORT = "short shot", "short shot"
    AIR = "air", "air"
    DENT = "dent", "dent"
    FLASH = "flash", "flash"
    COLOR = "color", "color"
    DIRT = "dirt", "dirt"
    TORN = "torn", "torn"
    OTHER = "other", "other"


class ShotReject(models.Model):
    """Why some of a result's baits were rejected; rejects without a row were given no reason."""

    result = models.ForeignKey(ShotResult, on_delete=models.CASCADE, related_name="reasons")
    reason = models.CharField(max_length=12, choices=RejectReason)
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["result", "reason"], name="reason_once_per_result")
        ]


class Sorting(models.Model):
    """Baits first counted as good, sorted out afterwards: seconds, or rejects with a reason."""

    class Fate(models.TextChoices):
        SECOND = "second", "second"
        REJECT = "reject", "reject"

    shots = models.ForeignKey(Shots, on_delete=models.PROTECT, related_name="sortings")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="sorting")
    bait = models.ForeignKey(Bait, on_delete=models.PROTECT, related_name="+")
    fate = models.CharField(max_length=8, choices=Fate)
    reason = models.CharField(max_length=12, choices=RejectReason, blank=True)
    count = models.PositiveIntegerField(validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["id"]


class Bagging(models.Model):
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="bagging")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="baggings")
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="bagging")
    bags = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    #: What finishing takes by its steps, as they were that day.
    minutes = models.DecimalField(max_digits=12, decimal_places=2, default=0)

    class Meta:
        ordering = ["-id"]
