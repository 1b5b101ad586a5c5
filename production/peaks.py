"""How hot a batch became, as the bench says it: “350 F”, “177 °C”, or a bare number in the shop's own scale."""

from dataclasses import dataclass
from decimal import Decimal

from inventory import amounts, temperature, units

#: °C that a warmed cup of plastisol reaches; it is worked at 160 to 180 °C (common practice, no source).
USUAL = (Decimal(100), Decimal(230))
#: The scale of a bare number, by the shop's units.
HABIT = {"us": "F", "metric": "C"}


@dataclass(frozen=True)
class Peak:
    """°C to a tenth; `doubt` is a question with both readings where the figure looks wrong, else ""."""

    celsius: Decimal
    doubt: str = ""


def read(text: str, system: str = "us") -> Peak:
    """The peak that was written. `system`: "us" or "metric", for a number without its scale.

    Raises `temperature.TemperatureError` for what is no temperature."""
    said = " ".join(str(text).split())
    number = said
    try:
        degrees = amounts.number(said)
    except amounts.AmountError:
        degrees = None
    if degrees is not None:
        said = f"{number} {HABIT[system]}"
    celsius = temperature.parse(said)
    return Peak(celsius, _doubt(celsius, system))


def _doubt(celsius: Decimal, system: str) -> str:
    least, most = USUAL
    if least <= celsius <= most:
        return ""
    text = f"{temperature.show(celsius, system)} is no usual peak for plastisol."
    fahrenheit = units.celsius_to_fahrenheit(celsius)
    for number, scale in ((celsius, "F"), (fahrenheit, "C")):
        other = units.fahrenheit_to_celsius(number) if scale == "F" else number
        if least <= other <= most:
            whole = f"{number.quantize(Decimal(1)):f}"
            return f"{text} Was it {whole} °{scale}, which is {temperature.show(other, system)}?"
    return text
