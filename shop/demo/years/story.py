"""Years of the shop, day by day, from one seed."""

import itertools
from collections import defaultdict
from collections.abc import Callable
from datetime import date, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from inventory import units
from inventory.services import receiving
from shop.demo import build, furnishing, papers
from shop.demo.hours import Hours
from shop.demo.years import assortment, seasons, selling
from shop.demo.years.bench import Bench
from shop.demo.years.buying import Buying
from shop.demo.years.counting import Counting
from shop.demo.years.house import House
from shop.demo.years.selling import POST_DAYS, Selling
from shop.demo.years.things import Things, Work
from shop.models import Customer, Shop, User

YEAR = 365.25
#: Days after the opening on which the bench is lit first: what was ordered has come by then.
FIRST_EVENING = 14
#: Months in which seconds leave the house.
GIVING_AWAY = (3, 6, 9, 12)
#: Batches of an evening; days of demand that are poured ahead.
BATCHES, AHEAD = (5, 6, 6, 6, 7, 7), 40


@transaction.atomic
def load(
    *,
    owner: User,
    years: float,
    scale: int = 1,
    today: date | None = None,
    house: Callable[[User], House] = House,
) -> Shop:
    """Makes a shop of `owner` with a history of so many years that ends yesterday, the same for the same day.

    scale: so many benches as busy as a usual one. today: a date in the shop's time zone, the present one by
    default. Raises `build.NotEmpty` as the small demo does."""
    shop = build.open_empty(owner)
    zone = ZoneInfo(shop.time_zone)
    today = today or timezone.localdate(timezone=zone)
    with timezone.override(zone):
        story = Story(owner, today, round(years * YEAR), scale, Hours(zone))
        story.open()
        story.tell(house(owner))
    return shop


class Story:
    def __init__(self, owner: User, today: date, days: int, scale: int, hours: Hours) -> None:
        self._owner, self._today, self._scale, self._hours = owner, today, scale, hours
        self._first = today - timedelta(days=days)
        self._keys = (f"demo-{number}" for number in itertools.count(1))
        self._random = Random("Lantern Cove, the long story")

    def open(self) -> None:
        """Writes down the shop's things and what lay on its shelf, through the services."""
        self._hours.at(self._first, 9)
        furnishing.stock_shelf()
        furnishing.set_up_bench(self._hours.now)
        furnishing.add_recipes(assortment.RECIPES, self._hours.now)
        furnishing.add_products(assortment.PRODUCTS)
        furnishing.set_service()
        furnishing.add_customers()
        Customer.objects.bulk_create(Customer(name=name) for name in selling.people())
        papers.add(self._owner)
        receiving.open_shelf(
            key=next(self._keys),
            arrivals=furnishing.opening_arrivals(self._first),
            happened_at=self._hours.now,
            by=self._owner,
        )

    def tell(self, house: House) -> None:
        things = Things()
        common = house, things, self._hours, self._keys, self._random
        self._things, self._house = things, house
        self._bench, self._counting = Bench(*common), Counting(*common)
        self._buying, self._selling = Buying(*common, self._scale), Selling(*common, self._scale)
        day = self._first
        while day < self._today:
            self._live(day)
            house.day_is_over()
            day += timedelta(days=1)
        house.finish()

    def _live(self, day: date) -> None:
        years = (day - self._first).days / YEAR
        still = (self._today - day).days / YEAR
        self._hours.at(day, 9)
        if day.weekday() < 5:
            self._buying.look(day, still)
        self._selling.take_orders(day, years, still)
        if day < self._first + timedelta(days=FIRST_EVENING):
            self._hours.at(day, 14)
            self._buying.receive(day)
            return
        self._hours.at(day, 10)
        self._selling.bag(day, years)
        self._hours.at(day, 14)
        if day.weekday() < 6:
            self._buying.receive(day)
        if day.weekday() in POST_DAYS:
            self._hours.at(day, 15)
            self._selling.post_parcels(day)
        if day.day == 5:
            self._hours.at(day, 17)
            self._counting.round()
        if day.day in (1, 16):
            self._hours.at(day, 18)
            self._counting.clear(day)
        if day.day == 20 and day.month in GIVING_AWAY:
            self._hours.at(day, 18)
            self._counting.give_away(day)
        if seasons.pours_on(day, self._random):
            for _bench in range(self._scale):
                self._hours.at(day, 19)
                self._bench.tell(day, years, self._wanted(day, years))

    def _wanted(self, day: date, years: float) -> list[tuple[Work, int]]:
        """What tonight makes: that of which there is least for the days to come."""
        daily, there = self._demand(day, years)
        ranked = []
        for work in self._things.works:
            kinds = [(c.bait_id, work.pattern.pk) for c in work.mold.cavities.all()]
            asked = [kind for kind in kinds if daily[kind] > 0]
            if not asked:
                continue
            lasts = min(there[kind] / daily[kind] for kind in asked)
            each = min(c.count for c in work.mold.cavities.all())
            short = max(daily[kind] * AHEAD - there[kind] for kind in asked)
            ranked.append((lasts, work.pattern.name, max(2, -(-int(short) // each)), work))
        wanted, batches = [], self._random.choice(BATCHES)
        while batches > 0 and ranked:
            for lasts, name, count, work in sorted(ranked, key=lambda one: one[:2]):
                shots = min(count, self._bench.most_shots(work))
                wanted.append((work, shots))
                batches -= len(work.pattern.layers.all())
                ranked.remove((lasts, name, count, work))
                if count > shots and lasts < AHEAD / 4:
                    ranked.append((lasts + 8, name, count - shots, work))
                if batches <= 0:
                    break
        return wanted

    def _demand(self, day: date, years: float) -> tuple[dict, dict]:
        """Of each bait in a pattern: how many a day are wanted soon, and how many there are."""
        soon = day + timedelta(days=20)
        daily: dict[tuple[int, int], float] = defaultdict(float)
        there: dict[tuple[int, int], float] = defaultdict(float)
        for product in self._things.products:
            bags = self._selling.asked_for(product, soon, years)
            bagged = self._house.sales.bagged(product)
            for content in product.contents.all():
                kind = content.bait_id, content.pattern_id
                loose = self._house.bench.loose_lots(content.bait, content.pattern)
                if kind not in there:
                    there[kind] = sum(lot.on_hand for lot in loose) / units.MICRO
                daily[kind] += bags * content.count
                there[kind] += bagged * content.count
        return daily, there
