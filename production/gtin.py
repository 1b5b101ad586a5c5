"""Check digits of article numbers (GTIN), after GS1 General Specifications section 7.9."""

LENGTHS = (8, 12, 13, 14)


class GtinError(ValueError):
    """A number that is not a GTIN; the text says what is wrong with it."""


def check_digit(digits: str) -> int:
    """Return the check digit for the digits that stand before it, of any length (SSCC too).

    From the right the digits weigh 3, 1, 3, …; the check digit fills the sum up to a ten.
    """
    if not (digits.isascii() and digits.isdigit()):
        raise GtinError("A barcode number is made of the digits 0 to 9.")
    total = sum(
        int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(digits))
    )
    return -total % 10


def validate(text: str) -> str:
    """Return the digits of a GTIN-8, -12, -13 or -14, spaces and hyphens left out; or GtinError."""
    digits = "".join(text.split()).replace("-", "")
    if not (digits.isascii() and digits.isdigit()):
        raise GtinError("A barcode number is made of the digits 0 to 9.")
    if len(digits) not in LENGTHS:
        raise GtinError(f"A barcode number has 8, 12, 13 or 14 digits; this one has {len(digits)}.")
    if not digits.strip("0"):
        raise GtinError("A barcode number cannot be all zeros.")
    right = check_digit(digits[:-1])
    if int(digits[-1]) != right:
        raise GtinError(
            f"The last digit of {digits} should be {right}, not {digits[-1]}. "
            "Compare it with the certificate; any digit may be mistyped."
        )
    return digits


def completed(text: str) -> str | None:
    """The number that lacks its check digit only, with it; None when it is no such number.

    Eleven digits make a UPC-A. Twelve whose last is no check digit may be an EAN-13 without its own."""
    digits = "".join(text.split()).replace("-", "")
    if not (digits.isascii() and digits.isdigit() and digits.strip("0")):
        return None
    lacks = len(digits) == 11 or (len(digits) == 12 and check_digit(digits[:-1]) != int(digits[-1]))
    return f"{digits}{check_digit(digits)}" if lacks else None


def ways_to_write(digits: str) -> frozenset[str]:
    """The same article's number at every length that holds it: zeros before a number change nothing
    (GS1 General Specifications, all GTINs in a field of 14 digits)."""
    bare = digits.lstrip("0")
    return frozenset(bare.zfill(length) for length in LENGTHS if length >= len(bare))
