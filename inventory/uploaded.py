"""What an uploaded file really is, told by its content; and a picture drawn anew.

Neither its name nor the type it came with is believed: both are whatever the sender says.
"""

import io
from typing import BinaryIO

from PIL import Image, ImageCms, ImageOps

PDF, JPEG = "application/pdf", "image/jpeg"
#: What a name ends in, by the type a file is kept as.
ENDINGS = {PDF: ".pdf", JPEG: ".jpg"}
#: Most bytes taken in. A phone's picture comes to 3 to 12 MB (common practice, no source).
MOST_BYTES = {"pdf": 10_000_000, "picture": 15_000_000}
#: Most pixels decoded. The largest common phone cameras give 50 million (from memory).
MOST_PIXELS = 60_000_000
#: A kept picture's longest side: a photographed letter page stays readable, at 180 dots to the inch.
LONGEST_SIDE = 2000
QUALITY = 85

#: First bytes, from each format's own description: ISO 32000-1 7.5.2, ITU-T T.81 B.1.1.3 with the
#: marker that follows, W3C PNG 5.2, RFC 9649 2.4. WebP has its length at 4 to 8.
_PDF, _JPEG, _PNG, _WEBP = b"%PDF-", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", (b"RIFF", b"WEBP")
_OPENERS = ("JPEG", "PNG", "WEBP")
#: Brands of the phone's own format, ISO/IEC 23008-12 10.2.
_HEIC = (b"heic", b"heix", b"hevc", b"mif1", b"msf1")


class FileRefused(ValueError):
    """The file is not taken in; the text says why and how to mend it."""


def what(head: bytes) -> str:
    """`pdf` or `picture`, from a file's first 16 bytes; FileRefused names what it is instead."""
    if head.startswith(_PDF):
        return "pdf"
    if head.startswith((_JPEG, _PNG)) or (head[:4], head[8:12]) == _WEBP:
        return "picture"
    if head[4:8] == b"ftyp" and head[8:12] in _HEIC:
        raise FileRefused(
            "This is a HEIC picture, which only some devices can show. Save or share it as JPEG, or "
            "set the phone's camera to its most compatible format."
        )
    if head.startswith((b"GIF87a", b"GIF89a")):
        raise FileRefused("This is a GIF. Send the picture as JPEG, PNG or WebP.")
    raise FileRefused(
        "This is neither a PDF nor a JPEG, PNG or WebP picture, whatever its name says. Save it as "
        "one of these and choose it again."
    )


def refuse_large(size: int, kind: str = "picture") -> None:
    """Raise FileRefused when a file of so many bytes is too large for its kind."""
    if size <= MOST_BYTES[kind]:
        return
    raise FileRefused(
        f"The file is {_megabytes(size)}: a picture may have {_megabytes(MOST_BYTES['picture'])}, "
        f"a PDF {_megabytes(MOST_BYTES['pdf'])}. Save it smaller and choose it again."
    )


def _megabytes(size: int) -> str:
    """Rounded up, so that a file a byte too large doesn't seem to be just right."""
    return f"{-(-size // 100_000) / 10:g} MB"


def redraw(file: BinaryIO) -> bytes:
    """A picture as a new JPEG: upright, at most LONGEST_SIDE px, in sRGB, its first frame only.

    Nothing but the pixels is taken over, so the place and time that a phone writes into its
    pictures are gone, and so is anything hidden behind the image. FileRefused for what can't be read.
    """
    try:
        with Image.open(file, formats=_OPENERS) as image:
            _refuse_bomb(*image.size)
            image.verify()
        file.seek(0)  # a verified image must be opened again: Pillow's documentation of verify()
        with Image.open(file, formats=_OPENERS) as image:
            image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            drawn = _plain(image)
    except FileRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many_pixels() from error
    except Exception as error:  # what a decoder raises on broken bytes is of every kind
        raise FileRefused(
            "This picture is damaged or was not sent whole. Open it once to see, and choose it again."
        ) from error
    out = io.BytesIO()
    drawn.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _refuse_bomb(width: int, height: int) -> None:
    """Before decoding: a file of a few kilobytes can claim a picture of many gigabytes."""
    if width * height > MOST_PIXELS:
        raise _too_many_pixels()


def _too_many_pixels() -> FileRefused:
    return FileRefused(
        f"This picture has more than {MOST_PIXELS // 1_000_000} million pixels. Save it smaller, "
        f"{LONGEST_SIDE} px on the longest side is plenty, and choose it again."
    )


def _plain(image: Image.Image) -> Image.Image:
    """The picture's pixels alone, on white where it is transparent."""
    if image.mode.startswith("I;16"):
        image = image.point(lambda value: value / 256, "L")
    icc = image.info.get("icc_profile")
    if image.mode not in ("RGB", "RGBA") and not (image.mode == "CMYK" and icc):
        image = image.convert("RGBA" if image.has_transparency_data else "RGB")
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    image = ImageOps.exif_transpose(image)
    if icc:
        image = _in_srgb(image, icc)
    plain = Image.new("RGB", image.size, "white")
    plain.paste(image, mask=image.getchannel("A") if image.mode == "RGBA" else None)
    return plain


def _in_srgb(image: Image.Image, icc: bytes) -> Image.Image:
    """The same colors without the profile: phones photograph in a wider space than sRGB."""
    mode = "RGBA" if image.mode == "RGBA" else "RGB"
    try:
        return ImageCms.profileToProfile(
            image,
            ImageCms.ImageCmsProfile(io.BytesIO(icc)),
            ImageCms.createProfile("sRGB"),
            outputMode=mode,
        )
    except (ImageCms.PyCMSError, OSError, ValueError):
        return image.convert(
            mode
        )  # a profile of another color space says nothing about these pixels
