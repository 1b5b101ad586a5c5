"""Where a parcel goes, as lines of text."""

from shop.models import Order


def tidy(text: str) -> str:
    """The address with one part a line: no empty lines, no blanks at the ends or doubled."""
    lines = (" ".join(line.split()) for line in text.splitlines())
    return "\n".join(line for line in lines if line)


def of(order: Order) -> str:
    """Where the order is to go: its own address, or the customer's; without the name."""
    return tidy(order.ship_to or order.customer.address)


def with_name(name: str, address: str) -> list[str]:
    """The lines to write on a parcel: the name first, unless the address begins with it."""
    lines = tidy(address).splitlines()
    name = " ".join(name.split())
    return lines if lines and lines[0].casefold() == name.casefold() else [name, *lines]
