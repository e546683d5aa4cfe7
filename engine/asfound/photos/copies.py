"""The copy of a photograph that goes into a document: upright, small enough, and saying nothing of where it was taken.

The copy is a JPEG made anew from the pixels. Of what the file holds besides,
only a small colour profile goes along, and the location where somebody asks
for it. The same file gives the same bytes, with the same version of Pillow.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.photos.files import NotRead, opened
from asfound.photos.picture import GPS, decoding, exif_of, orientation

if TYPE_CHECKING:
    from PIL.Image import Image

QUALITY = 85
MAX_PROFILE = 8_192
"""Bytes of a colour profile that goes along; a larger one is left out, as most of such hold more than colour."""
_TURNS = {
    2: ("FLIP_LEFT_RIGHT",), 3: ("ROTATE_180",), 4: ("FLIP_TOP_BOTTOM",), 5: ("TRANSPOSE",),
    6: ("ROTATE_270",), 7: ("TRANSVERSE",), 8: ("ROTATE_90",),
}  # fmt: skip


def delivered(path: Path, most_px: int, keep_location: bool = False) -> bytes:
    """A JPEG of the picture at `path`, upright, no side longer than `most_px`; 0 keeps its size.

    `keep_location` passes on the EXIF location and nothing else of EXIF. Raises
    `NotRead` with the reason when the file is no picture that can be read.
    """
    return delivered_from(path.parent, path.name, most_px, keep_location)


def delivered_from(folder: Path, name: str, most_px: int, keep_location: bool = False) -> bytes:
    """As `delivered`, for a name as it stands in a record in `folder`, which may be hostile."""
    with opened(folder, name) as file, decoding(file) as image:
        location = _location(image) if keep_location else b""
        profile = _profile(image)
        if most_px:
            image.draft("RGB", (most_px, most_px))
        shown = flat(image)
        turn = orientation(exif_of(image))  # after decoding, for a TIFF turns itself
        if most_px:
            shown.thumbnail((most_px, most_px), reducing_gap=2.0)
        return _saved(turned(shown, turn), profile, location)


def turned(image: Image, orientation: int) -> Image:
    """The picture as it is shown, by EXIF orientation."""
    from PIL.Image import Transpose

    for name in _TURNS.get(orientation, ()):
        image = image.transpose(Transpose[name])
    return image


def flat(image: Image) -> Image:
    """The first picture in RGB on white, in a picture of its own that knows nothing of the file."""
    from PIL import Image

    image.load()
    if image.mode in ("I", "F") or image.mode.startswith("I;"):
        image = _eight_bits(image)
    clean = Image.new("RGB", image.size, "white")
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        seen = image.convert("RGBA")
        clean.paste(seen, mask=seen.getchannel("A"))
    else:
        clean.paste(image.convert("RGB"))
    return clean


def _eight_bits(image: Image) -> Image:
    """A picture of deep greys in 256 of them: 16 bits by their upper half, others from darkest to brightest."""
    deep = image.convert("F")
    low, high = (0.0, 65535.0) if image.mode.startswith("I;16") else _ends(deep)
    scale = 255.0 / (high - low) if high > low else 0.0
    return deep.point(lambda value: value * scale - low * scale).convert("L")


def _ends(image: Image) -> tuple[float, float]:
    extrema: Any = image.getextrema()
    low, high = float(extrema[0]), float(extrema[1])
    if not (abs(low) < 1e30 and abs(high) < 1e30):
        raise NotRead("the picture in it is damaged")
    return low, high


def _profile(image: Image) -> bytes:
    """The colour profile to pass on: small, and for the colours of the copy."""
    held = image.info.get("icc_profile")
    good = isinstance(held, bytes) and 128 < len(held) <= MAX_PROFILE and held[16:20] == b"RGB "
    return bytes(held) if good and held and image.mode in ("RGB", "RGBA", "P", "YCbCr") else b""


def _location(image: Image) -> bytes:
    """EXIF with the location of a picture and nothing else; empty when there is none."""
    from PIL.Image import Exif

    try:
        held = dict(image.getexif().get_ifd(GPS))
        if not held:
            return b""
        made = Exif()
        made[GPS] = held
        return bytes(made.tobytes())
    except Exception:  # values that no camera writes
        return b""


def _saved(image: Image, profile: bytes, location: bytes) -> bytes:
    out = io.BytesIO()
    more: dict[str, Any] = {"icc_profile": profile} if profile else {}
    if location:
        more["exif"] = location
    image.save(out, "JPEG", quality=QUALITY, **more)
    return out.getvalue()
