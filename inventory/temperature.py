"""Temperatures as the data sheet or the thermometer says them: “350 F”, “177 °C”.

They are kept in °C to a tenth, so that a whole °F reads back as it was written. A number without its
scale is never guessed: 350 °F is 177 °C, and 350 °C would ruin the plastic.
"""

import re
from decimal import ROUND_HALF_EVEN, Decimal

from inventory import amounts, units

#: °C of what this trade heats: from a warm room to far above any mold oven. Outside it nothing is kept.
COLDEST, HOTTEST = Decimal(-50), Decimal(400)
#: °C between which a limit for plastisol, colorant or flake is usual; it fuses near 180 °C and is
#: worked at 160 to 180 °C (common practice, no source). Outside it the page asks.
USUAL_LIMIT = (Decimal(100), Decimal(240))
_TENTH, _WHOLE = Decimal("0.1"), Decimal(1)
_WRITTEN = re.compile(
    r"(?P<number>.*?[0-9½¼¾⅓⅔⅛.,])\s*(?:°|º|deg(?:rees?)?\.?)?\s*"
    r"(?P<scale>f|c|fahrenheit|celsius|centigrade)?\.?",
    re.IGNORECASE | re.DOTALL,
)


class TemperatureError(ValueError):
    """No temperature; the text says how to write it instead."""


def parse(text: str) -> Decimal:
    """°C, to a tenth, of “350 F”, “350 °F”, “177 C” or “176.7 degrees Celsius”.

    Raises TemperatureError, which shows both readings of a number that names no scale."""
    said = " ".join(str(text).replace("℃", "°C").replace("℉", "°F").split())
    written = _WRITTEN.fullmatch(said)
    if not written:
        raise TemperatureError("Write a number and F or C: 350 F, 177 °C.")
    try:
        degrees = amounts.number(written["number"], allow_negative=True)
    except amounts.AmountError as error:
        raise TemperatureError(str(error)) from error
    if written["scale"] is None:
        raise TemperatureError(f"Is it F or C? {readings(degrees)} Write the letter behind it.")
    celsius = degrees
    if written["scale"][0] in "fF":
        celsius = units.fahrenheit_to_celsius(degrees)
    if not COLDEST <= celsius <= HOTTEST:
        raise TemperatureError(
            f"{said} is no temperature of this bench: it must be between {_both(COLDEST)} "
            f"and {_both(HOTTEST)}."
        )
    return celsius.quantize(_TENTH, ROUND_HALF_EVEN)


def readings(degrees: Decimal) -> str:
    """A number in both scales: “350 °F is 177 °C; 350 °C is 662 °F.”"""
    number = amounts.show(degrees, "°F").removesuffix(" °F")
    celsius = _rounded(units.fahrenheit_to_celsius(degrees))
    return f"{number} °F is {celsius} °C; {number} °C is {_fahrenheit(degrees)} °F."


def doubt(celsius: Decimal) -> str:
    """A question when it is no usual limit, with what the other scale would make of it; else ""."""
    least, most = USUAL_LIMIT
    if least <= celsius <= most:
        return ""
    text = f"{_both(celsius)} is no usual limit: plastisol is worked at about 160 to 180 °C."
    if least <= (other := units.fahrenheit_to_celsius(celsius)) <= most:
        text += f" Was it {_rounded(celsius)} °F, which is {_rounded(other)} °C?"
    elif least <= units.celsius_to_fahrenheit(celsius) <= most:
        fahrenheit = _fahrenheit(celsius)
        text += f" Was it {fahrenheit} °C, which is {_fahrenheit(Decimal(fahrenheit))} °F?"
    return text


def show(celsius: Decimal | int, system: str = "us") -> str:
    """Both scales, the one of `system` first: “350 °F · 177 °C” or “177 °C · 350 °F”."""
    both = [f"{_fahrenheit(Decimal(celsius))} °F", f"{_rounded(Decimal(celsius))} °C"]
    return " · ".join(both if system == "us" else reversed(both))


def as_typed(celsius: Decimal | int) -> str:
    """What a field shows for it: whole °C as °C, else a whole °F that reads back the same, else °C."""
    celsius = Decimal(celsius)
    if celsius == celsius.to_integral_value():
        return f"{_rounded(celsius)} °C"
    fahrenheit = f"{_fahrenheit(celsius)} °F"
    return fahrenheit if parse(fahrenheit) == celsius else f"{celsius.normalize():f} °C"


def _both(celsius: Decimal) -> str:
    return f"{_rounded(celsius)} °C ({_fahrenheit(celsius)} °F)"


def _fahrenheit(celsius: Decimal) -> str:
    return _rounded(units.celsius_to_fahrenheit(celsius))


def _rounded(degrees: Decimal) -> str:
    text = f"{degrees.quantize(_WHOLE, ROUND_HALF_EVEN):f}"
    return "0" if text == "-0" else text
