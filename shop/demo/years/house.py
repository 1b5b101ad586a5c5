"""The one that writes the years down: bench, sales and shelf on the same books."""

from inventory.services.bulk import Books
from shop.demo.years.house_bench import HouseBench
from shop.demo.years.house_sales import HouseSales
from shop.demo.years.house_shelf import HouseShelf
from shop.models import User


class House:
    """What a story needs of a shop. Tests have another one, which calls the services."""

    def __init__(self, by: User) -> None:
        self._books = Books(by=by)
        self.bench = HouseBench(self._books)
        self.sales = HouseSales(self._books, self.bench)
        self.shelf = HouseShelf(self._books)

    def day_is_over(self) -> None:
        """A moment at which nothing is half-written."""
        self._books.rest()

    def finish(self) -> None:
        self._books.flush()
