"""Photos: judged by their content, re-encoded without metadata, kept under random names."""

from __future__ import annotations

import secrets
import warnings
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import IO, TYPE_CHECKING

from django.core.files.base import ContentFile

from contractor.api import events
from contractor.api.transactions import service
from contractor.engine.calendars.zones import zone
from jobs import locks
from jobs.errors import PictureError
from jobs.models import Photo

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_BYTES = 10 * 1024 * 1024
MOST_PIXELS = 64_000_000
LONGEST_SIDE = 2560
THUMBNAIL_SIDE = 320
FORMATS = ("JPEG", "PNG", "WEBP")
_EXIF_BLOCK, _TAKEN, _TAKEN_OFFSET = 0x8769, 0x9003, 0x9011  # Exif 2.32, table 8
_REMEDY = "Send a photo as the camera makes it (JPEG), or a PNG or WebP, up to 10 MB."


@dataclass(frozen=True)
class Picture:
    """JPEG bytes without metadata; ``taken_at`` is what the camera said, read at the site."""

    jpeg: bytes
    thumbnail: bytes
    taken_at: datetime | None


def read_picture(upload: IO[bytes], size: int, time_zone: str) -> Picture:
    """Decode, turn upright, scale down and re-encode an upload. Raises PictureError.

    Location and every other tag stay behind. Runs outside transactions.
    """
    from PIL import Image

    if size > MOST_BYTES:
        raise PictureError(f"The photo has {size / 1e6:.0f} MB.", remedy=_REMEDY)
    try:
        with warnings.catch_warnings():
            # Our own limit, checked on the header, stands in for Pillow's.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(upload, formats=FORMATS)
            _require_size(image)
            return _encoded(image, time_zone)
    except Image.DecompressionBombError as error:
        raise PictureError("The photo has too many pixels.", remedy=_REMEDY) from error
    except (OSError, SyntaxError, ValueError) as error:
        raise PictureError("This file is not a photo, or it is damaged.", remedy=_REMEDY) from error


def _require_size(image: Image) -> None:
    if image.width * image.height > MOST_PIXELS:
        raise PictureError(f"{image.width} x {image.height} pixels are too many.", remedy=_REMEDY)


def _encoded(image: Image, time_zone: str) -> Picture:
    from PIL import ImageOps

    taken_at = _taken_at(image, time_zone)
    image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is decoded at a smaller scale
    upright = ImageOps.exif_transpose(image)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    jpeg = _jpeg(upright, 85)
    upright.thumbnail((THUMBNAIL_SIDE, THUMBNAIL_SIDE))
    return Picture(jpeg, _jpeg(upright, 80), taken_at)


def _jpeg(image: Image, quality: int) -> bytes:
    out = BytesIO()
    image.convert("RGB").save(out, "JPEG", quality=quality, optimize=True, exif=b"")
    return out.getvalue()


def _taken_at(image: Image, time_zone: str) -> datetime | None:
    """Return the capture time; without an offset in the photo it is the time at the site."""
    tags = image.getexif().get_ifd(_EXIF_BLOCK)
    try:
        taken = datetime.strptime(str(tags[_TAKEN]), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007
    except (KeyError, ValueError):
        return None
    offset = str(tags.get(_TAKEN_OFFSET, ""))
    try:
        return datetime.fromisoformat(f"{taken.isoformat()}{offset or 'none'}")
    except ValueError:
        return taken.replace(tzinfo=zone(time_zone))


@service
def add_photo(
    install_pk: int, *, picture: Picture, brace_pk: int | None = None, source: str = "crew"
) -> Photo:
    """Keep a picture with an install record (and one of its braces)."""
    install = locks.lock_install(install_pk)
    name = secrets.token_hex(16)
    photo = Photo(install=install, source=source, taken_at=picture.taken_at)
    if brace_pk is not None:
        photo.brace = install.braces.get(pk=brace_pk)
    photo.file.save(f"{name}.jpg", ContentFile(picture.jpeg), save=False)
    photo.thumbnail.save(f"{name}-small.jpg", ContentFile(picture.thumbnail), save=False)
    photo.save()
    events.record("photo.added", install, branch=install.branch, photo=photo.pk, source=source)
    return photo
