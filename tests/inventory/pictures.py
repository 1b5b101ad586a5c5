"""Real files for the tests of what is taken in."""

import io

from PIL import Image, ImageDraw

PDF = b"%PDF-1.4\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer << /Root 1 0 R >>\n%%EOF\n"
#: Where a phone says it was: EXIF 2.32, table 15 (1 and 3 are the hemispheres, 2 and 4 the angles).
LATITUDE = (44.0, 58.0, 21.0)


def picture(kind: str = "JPEG", size: tuple[int, int] = (400, 300), **saving) -> bytes:
    """A gray picture whose upper left quarter is red."""
    drawn = Image.new("RGB", size, "gray")
    ImageDraw.Draw(drawn).rectangle((0, 0, size[0] // 2, size[1] // 2), fill="red")
    out = io.BytesIO()
    drawn.save(out, kind, **saving)
    return out.getvalue()


def phone_picture(orientation: int = 1) -> bytes:
    """A photo as a phone writes it: sideways with a note how to turn it, and where it was taken."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Invented Phone Works"
    exif.get_ifd(0x8825).update({1: "N", 2: LATITUDE, 3: "W", 4: (93.0, 15.0, 5.0)})
    return picture(exif=exif)


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image
