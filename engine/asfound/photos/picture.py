"""What a picture says of itself: form, size as shown, how it is turned, when it was taken, whether it says where.

Reads JPEG, PNG, WebP, TIFF and GIF by their content, whatever the name ends in,
and decodes the first picture in them to its end. More than `MAX_PIXELS`, a
side longer than `MAX_SIDE` and everything that Pillow counts as a
decompression bomb is refused before it is decoded. Location is looked for in
EXIF, XMP and IPTC of the first picture; its coordinates are never given out.
"""

from __future__ import annotations

import contextlib
import re
import threading
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, BinaryIO

from asfound.photos.files import NotRead

if TYPE_CHECKING:
    from PIL.Image import Exif
    from PIL.ImageFile import ImageFile

MAX_PIXELS = 80_000_000
MAX_SIDE = 32_000
FORMS = ("JPEG", "PNG", "WEBP", "TIFF", "GIF")
NAMES = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "WEBP": "WebP", "TIFF": "TIFF", "GIF": "GIF"}
"""How a form is called in a sentence, by the name that Pillow gives it."""
ENDINGS = {
    "jpg": "JPEG", "jpeg": "JPEG", "jpe": "JPEG", "jfif": "JPEG", "mpo": "JPEG", "png": "PNG", "apng": "PNG",
    "webp": "WebP", "tif": "TIFF", "tiff": "TIFF", "gif": "GIF",
}  # fmt: skip
"""The form that the ending of a file name promises."""
TURNED = {
    1: "upright", 2: "mirrored", 3: "half turn", 4: "half turn, mirrored",
    5: "quarter turn left, mirrored", 6: "quarter turn right", 7: "quarter turn right, mirrored",
    8: "quarter turn left",
}  # fmt: skip
"""How the stored picture is turned to be shown, by EXIF orientation (CIPA DC-008, tag 274)."""

_ORIENTATION, _EXIF, GPS, _XMP = 0x0112, 0x8769, 0x8825, 700
_TAKEN, _TAKEN_OFFSET = 0x9003, 0x9011
_WHERE = (2, 4, 20, 22, 28)
"""EXIF GPS tags that tell a place: latitude, longitude, those of the destination, and the name of the area."""
_WHERE_XMP = re.compile(
    rb"GPS(Dest)?L(at|ong)itude|Iptc4xmpCore:Location|Iptc4xmpExt:(LocationCreated|LocationShown)|photoshop:City"
)
_WHERE_IPTC = ((2, 26), (2, 27), (2, 90), (2, 92))
"""IPTC datasets for a place: content location code and name, city, sublocation."""
_MOMENT = re.compile(r"([0-9]{4}):([0-9]{2}):([0-9]{2}) ([0-9]{2}):([0-9]{2}):([0-9]{2})\Z")
_OFFSET = re.compile(r"[+-][0-9]{2}:[0-9]{2}\Z")
_NO_MOMENT = re.compile(r"[\s:0]*\Z")
"""How a camera without a clock fills the field."""
_UNKNOWN_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis")


class OtherForm(NotRead):
    """A picture in a form that is not read here; that says nothing against the picture."""


@dataclass(frozen=True, slots=True)
class Picture:
    """What a picture says of itself. `width` and `height` are as shown, in pixels.

    `taken` is `2026-05-04 08:35:12`, with the offset from UTC after it where the
    camera gives one; empty without a date, None when the date cannot be read.
    `has_location` is None when that cannot be told.
    """

    form: str
    width: int
    height: int
    turned: str
    taken: str | None
    has_location: bool | None


def read_picture(file: BinaryIO) -> Picture:
    """Read and decode a picture. Raises `NotRead` with the reason, `OtherForm` for a form that is not read."""
    with decoding(file) as image:
        form = NAMES[str(image.format)]
        exif = exif_of(image)
        turned = TURNED[orientation(exif)]
        width, height = image.size
        taken = _taken(exif)
        place = _place(image, exif)
        image.draft("L", (1, 1))  # JPEG is decoded to its end all the same, at an eighth of the size
        image.load()
        if orientation(exif_of(image)) >= 5:  # asked again, for a TIFF turns itself and its size
            width, height = height, width
        return Picture(form, width, height, turned, taken, place)


@contextlib.contextmanager
def decoding(file: BinaryIO) -> Iterator[ImageFile]:
    """An opened picture within the bounds; whatever goes wrong with it inside ends as `NotRead`."""
    from PIL import Image

    _known_form(file)
    try:
        with _QUIET, Image.open(file, formats=FORMS) as image:
            width, height = image.size
            if width * height > MAX_PIXELS or max(width, height) > MAX_SIDE:
                raise NotRead(f"it says it is {width} by {height} pixels, more than is read")
            yield image
    except NotRead:
        raise
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise NotRead("it says it is larger than any picture that is read") from None
    except Image.UnidentifiedImageError:
        raise NotRead("the picture in it is damaged") from None
    except MemoryError:
        raise NotRead("it takes more memory than there is") from None
    except Exception as error:  # a hostile file can make a decoder raise anything
        cut = "truncated" in str(error) or isinstance(error, EOFError)
        raise NotRead("the picture in it is cut off" if cut else "the picture in it is damaged") from None


class _Quiet:
    """While anybody is inside, Pillow warns of nothing and treats a decompression bomb as an error. For threads too."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._inside = 0
        self._kept: warnings.catch_warnings[None] | None = None

    def __enter__(self) -> None:
        from PIL import Image

        with self._lock:
            self._inside += 1
            if self._kept is None:
                self._kept = warnings.catch_warnings()
                self._kept.__enter__()
                warnings.simplefilter("ignore")
                warnings.simplefilter("error", Image.DecompressionBombWarning)

    def __exit__(self, *raised: object) -> None:
        with self._lock:
            self._inside -= 1
            if not self._inside and self._kept is not None:
                self._kept.__exit__(None, None, None)
                self._kept = None


_QUIET = _Quiet()


def _known_form(file: BinaryIO) -> None:
    """Go on only with what begins like a picture of a known form. Raises `NotRead` or `OtherForm`."""
    file.seek(0)
    head = file.read(16)
    file.seek(0)
    if not head:
        raise NotRead("the file is empty")
    if head[4:8] == b"ftyp" and head[8:12] in _UNKNOWN_BRANDS:
        name = "AVIF" if head[8:10] == b"av" else "HEIC or HEIF"
        raise OtherForm(f"{name} is a form that is not read here; save it as JPEG as well and list that")
    starts = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*", b"GIF87a", b"GIF89a")
    if not head.startswith(starts) and not (head[:4] == b"RIFF" and head[8:12] == b"WEBP"):
        raise NotRead("it is no JPEG, PNG, WebP, TIFF or GIF picture")


def orientation(exif: Exif | None) -> int:
    """The EXIF orientation, 1 to 8; 1 where there is none or it is none of these."""
    with contextlib.suppress(Exception):
        value = exif.get(_ORIENTATION, 1) if exif is not None else 1
        if isinstance(value, int) and value in TURNED:
            return value
    return 1


def exif_of(image: ImageFile) -> Exif | None:
    """The EXIF of a picture; None when it cannot be read."""
    try:
        return image.getexif()
    except Exception:  # the same as above: bytes of a stranger
        return None


def _taken(exif: Exif | None) -> str | None:
    try:
        if exif is None:
            return None
        held = exif.get_ifd(_EXIF)
        text = _text(held.get(_TAKEN, ""))
        if _NO_MOMENT.match(text):
            return ""
        found = _MOMENT.match(text)
        if found is None:
            return None
        moment = datetime(*map(int, found.groups()))  # type: ignore[arg-type]
        offset = _text(held.get(_TAKEN_OFFSET, ""))
        return f"{moment.isoformat(' ')}{offset if _OFFSET.match(offset) else ''}"
    except Exception:
        return None


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    if not isinstance(value, str):
        raise ValueError
    return value.rstrip("\x00").strip()


def _place(image: ImageFile, exif: Exif | None) -> bool | None:
    """Whether the picture says where it was taken; None when a part of what it says cannot be read."""
    told: list[bool | None] = []
    for look in (_place_exif, _place_xmp, _place_iptc):
        try:
            told.append(look(image, exif))
        except Exception:
            told.append(None)
    return True if True in told else None if None in told else False


def _place_exif(image: ImageFile, exif: Exif | None) -> bool | None:
    return None if exif is None else any(tag in exif.get_ifd(GPS) for tag in _WHERE)


def _place_xmp(image: ImageFile, exif: Exif | None) -> bool:
    held: list[Any] = [image.info.get("xmp"), image.info.get("XML:com.adobe.xmp")]
    held.append(exif.get(_XMP) if exif is not None else None)
    texts = [text.encode("utf-8", "replace") if isinstance(text, str) else text for text in held if text]
    return any(_WHERE_XMP.search(bytes(text)) for text in texts)


def _place_iptc(image: ImageFile, exif: Exif | None) -> bool:
    from PIL import IptcImagePlugin

    held = IptcImagePlugin.getiptcinfo(image) or {}
    return any(dataset in held for dataset in _WHERE_IPTC)
