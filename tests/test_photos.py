"""Photographs: what is read of them, what is delivered, and that no file or name does harm. All pictures are invented.

How a stored picture is turned follows the table of the EXIF tag Orientation (CIPA DC-008, tag 274, from memory);
names of tags are those of the same standard.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import random
import socket
import struct
import subprocess
import sys
import unicodedata
import warnings
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from asfound.photos import NotRead, delivered, delivered_from, opened
from asfound.photos.files import parts_of
from asfound.photos.items import look
from asfound.photos.picture import MAX_PIXELS, MAX_SIDE
from asfound.record.facts import Fact, Item
from asfound.survey import Survey
from records import findings, open_facts, record_text, sentences, surveyed

QUARTERS = {
    "top left": (220, 30, 30),
    "top right": (30, 180, 30),
    "bottom left": (30, 30, 220),
    "bottom right": (230, 220, 40),
}
WIDE, HIGH = 120, 80


def quarters() -> np.ndarray:
    """The picture as shown: a colour of its own in each quarter, wider than high."""
    shown = np.zeros((HIGH, WIDE, 3), dtype=np.uint8)
    for name, colour in QUARTERS.items():
        rows = slice(0, HIGH // 2) if name.startswith("top") else slice(HIGH // 2, HIGH)
        columns = slice(0, WIDE // 2) if name.endswith("left") else slice(WIDE // 2, WIDE)
        shown[rows, columns] = colour
    return shown


SIDES = {
    1: ("top", "left"), 2: ("top", "right"), 3: ("bottom", "right"), 4: ("bottom", "left"),
    5: ("left", "top"), 6: ("right", "top"), 7: ("right", "bottom"), 8: ("left", "bottom"),
}  # fmt: skip
"""By orientation: the side of the shown picture that the first stored row is, and that the first stored column is."""


def stored(shown: np.ndarray, orientation: int) -> np.ndarray:
    """The picture as a camera stores it, built pixel by pixel from the table of the standard."""
    row_side, column_side = SIDES[orientation]
    high, wide = shown.shape[:2]
    swapped = row_side in ("left", "right")
    kept = np.zeros((wide, high, 3) if swapped else (high, wide, 3), dtype=np.uint8)
    for row in range(kept.shape[0]):
        for column in range(kept.shape[1]):
            along = {row_side: row, column_side: column}
            y = along["top"] if "top" in along else high - 1 - along["bottom"]
            x = along["left"] if "left" in along else wide - 1 - along["right"]
            kept[row, column] = shown[y, x]
    return kept


def exif(
    orientation: int = 0, taken: str = "", offset: str = "", gps: dict[int, Any] | None = None, **texts: str
) -> Image.Exif:
    held = Image.Exif()
    held[0x010F] = "Invented"
    if orientation:
        held[0x0112] = orientation
    for name, number in {"model": 0x0110, "description": 0x010E}.items():
        if name in texts:
            held[number] = texts[name]
    if taken:
        held.get_ifd(0x8769)[0x9003] = taken
    if offset:
        held.get_ifd(0x8769)[0x9011] = offset
    for tag, value in (gps or {}).items():
        held.get_ifd(0x8825)[tag] = value
    return held


SOMEWHERE: dict[int, Any] = {
    1: "N", 2: tuple(map(IFDRational, (12, 34, 56))), 3: "W", 4: tuple(map(IFDRational, (31, 41, 59))),
}  # fmt: skip
"""An invented place in the sea."""
COORDINATES = ("12.58", "31.69", "12, 34", "31, 41", "12°", "31°")


def encoded(form: str, picture: Image.Image | None = None, **more: Any) -> bytes:
    out = io.BytesIO()
    if "exif" in more:
        more["exif"] = more["exif"].tobytes()
    (picture or Image.fromarray(quarters())).save(out, form, **more)
    return out.getvalue()


def corners(data: bytes) -> dict[str, str]:
    """For each quarter of a delivered picture the quarter whose colour it has."""
    with Image.open(io.BytesIO(data)) as image:
        assert image.mode == "RGB"
        wide, high = image.size
        found = {}
        for name in QUARTERS:
            y = high // 4 if name.startswith("top") else 3 * high // 4
            x = wide // 4 if name.endswith("left") else 3 * wide // 4
            pixel = np.array(image.getpixel((x, y)), dtype=int)
            found[name] = min(QUARTERS, key=lambda one: int(np.abs(pixel - QUARTERS[one]).sum()))
        return found


UPRIGHT = {name: name for name in QUARTERS}


def segments(data: bytes) -> list[tuple[int, bytes]]:
    """The marker segments of a JPEG up to its picture data (ISO/IEC 10918-1, Annex B, from memory)."""
    assert data[:2] == b"\xff\xd8"
    found, at = [], 2
    while True:
        assert data[at] == 0xFF
        marker, size = data[at + 1], struct.unpack(">H", data[at + 2 : at + 4])[0]
        found.append((marker, data[at + 4 : at + 2 + size]))
        at += 2 + size
        if marker == 0xDA:
            return found


def photo(folder: Path, name: str = "hall.jpg", **more: Any) -> tuple[Item, Survey]:
    """The item of one photograph listed in a record in `folder`, and the judged record."""
    done = surveyed(folder, record_text(photos=[{"file": name, "shows": "hall", **more}]))
    (item,) = done.installation.items["photo"]
    return item, done


def value(item: Item, name: str) -> Any:
    fact = item.data[name]
    assert isinstance(fact, Fact)
    return fact.value if fact.values else None


# -- what is read


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_turned_picture_is_read_and_delivered_upright(tmp_path: Path, form: str, orientation: int) -> None:
    """Size as shown, and every quarter where it belongs, for each way that a camera can be held."""
    kept = Image.fromarray(stored(quarters(), orientation))
    (tmp_path / "hall.jpg").write_bytes(encoded(form, kept, exif=exif(orientation)))
    item, _ = photo(tmp_path)
    assert (value(item, "width"), value(item, "height")) == (WIDE, HIGH)
    assert (value(item, "turned") == "upright") == (orientation == 1)
    copy = delivered(tmp_path / "hall.jpg", 60)
    with Image.open(io.BytesIO(copy)) as image:
        assert image.size == (60, 40)
        assert image.format == "JPEG"
    assert corners(copy) == UPRIGHT


def test_names_of_turns_differ(tmp_path: Path) -> None:
    told = set()
    for orientation in SIDES:
        (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", exif=exif(orientation)))
        told.add(value(photo(tmp_path)[0], "turned"))
    assert len(told) == 8


@pytest.mark.parametrize(
    "orientation",
    [pytest.param(0, id="not given"), pytest.param(9, id="beyond the table"), pytest.param(65535, id="far beyond")],
)
def test_orientation_outside_the_table_is_none(tmp_path: Path, orientation: int) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", exif=exif(orientation)))
    assert value(photo(tmp_path)[0], "turned") == "upright"
    assert corners(delivered(tmp_path / "hall.jpg", 60)) == UPRIGHT


@pytest.mark.parametrize(
    ("taken", "offset", "expected"),
    [
        pytest.param("2026:05:04 08:35:12", "", "2026-05-04 08:35:12", id="local time"),
        pytest.param("2026:05:04 08:35:12", "+02:00", "2026-05-04 08:35:12+02:00", id="with its offset"),
        pytest.param("2026:05:04 08:35:12", "summer", "2026-05-04 08:35:12", id="offset that is none"),
        pytest.param("0000:00:00 00:00:00", "", None, id="camera without a clock"),
        pytest.param("    :  :     :  :  ", "", None, id="blank, as the standard has it for unknown"),
        pytest.param("", "", None, id="no date"),
    ],
)
def test_time_taken(tmp_path: Path, taken: str, offset: str, expected: str | None) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", exif=exif(taken=taken, offset=offset)))
    item, _ = photo(tmp_path)
    assert ("taken" in item.data) == (expected is not None)
    assert expected is None or value(item, "taken") == expected


@pytest.mark.parametrize(
    "taken", ["2026:13:04 08:35:12", "2026:05:04", "yesterday", "2026:02:30 10:00:00", "٢٠٢٦:٠٥:٠٤"]
)
def test_date_that_is_none_is_cannot_tell(tmp_path: Path, taken: str) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", exif=exif(taken=taken)))
    item, done = photo(tmp_path, visit="V1")
    assert value(item, "taken") is None
    assert [one.reason for one in open_facts(done, "photograph-of-another-day")] == [
        "the date in the file cannot be read"
    ]


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "GIF"])
def test_form_and_fingerprint_are_those_of_the_file(tmp_path: Path, form: str) -> None:
    data = encoded(form)
    (tmp_path / "hall").write_bytes(data)
    item, _ = photo(tmp_path, "hall")
    assert value(item, "form") == {"WEBP": "WebP"}.get(form, form)
    assert value(item, "fingerprint_now") == hashlib.sha256(data).hexdigest()
    assert value(item, "readable") is True


def test_first_picture_of_several(tmp_path: Path) -> None:
    """A moving picture and a file of two pictures give the first."""
    other = Image.new("RGB", (WIDE, HIGH), "black")
    ways: dict[str, dict[str, Any]] = {"GIF": {}, "TIFF": {}, "WEBP": {"quality": 95}, "MPO": {}}
    for form, more in ways.items():
        data = encoded(form, save_all=True, append_images=[other], **more)
        (tmp_path / "hall").write_bytes(data)
        assert corners(delivered(tmp_path / "hall", 0)) == UPRIGHT, form
        assert value(photo(tmp_path, "hall")[0], "readable") is True


# -- location

XMP = (
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description '
    'rdf:about="" xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:{}="12,34.9N"/></rdf:RDF></x:xmpmeta>'
)


def iptc_jpeg(dataset: int) -> bytes:
    """A JPEG with one IPTC dataset in an APP13 segment (IIM 4.2 and the 8BIM resource 0x0404, from memory)."""
    iim = b"\x1c\x02" + bytes([dataset]) + struct.pack(">H", 6) + b"Nowhen"
    block = b"Photoshop 3.0\x008BIM" + struct.pack(">HxxI", 0x0404, len(iim)) + iim + b"\x00" * (len(iim) % 2)
    data = encoded("JPEG")
    return data[:2] + b"\xff\xed" + struct.pack(">H", len(block) + 2) + block + data[2:]


def png_with_xmp(text: str) -> bytes:
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_itxt("XML:com.adobe.xmp", text)
    return encoded("PNG", pnginfo=info)


WITH_PLACE = {
    "EXIF of a JPEG": encoded("JPEG", exif=exif(gps=SOMEWHERE)),
    "EXIF of a PNG": encoded("PNG", exif=exif(gps=SOMEWHERE)),
    "EXIF of a WebP": encoded("WEBP", exif=exif(gps=SOMEWHERE)),
    "EXIF of a TIFF": encoded("TIFF", exif=exif(gps=SOMEWHERE)),
    "place of the destination": encoded("JPEG", exif=exif(gps={20: SOMEWHERE[2], 22: SOMEWHERE[4]})),
    "name of the area": encoded("JPEG", exif=exif(gps={28: b"ASCII\0\0\0Nowhen"})),
    "XMP of a JPEG": encoded("JPEG", xmp=XMP.format("GPSLatitude").encode()),
    "XMP of a PNG": png_with_xmp(XMP.format("GPSLongitude")),
    "XMP of a WebP": encoded("WEBP", xmp=XMP.format("GPSLatitude").encode()),
    "XMP of a TIFF": encoded("TIFF", tiffinfo={700: XMP.format("GPSLatitude").encode()}),
    "IPTC city": iptc_jpeg(90),
}
WITHOUT_PLACE = {
    "nothing": encoded("JPEG"),
    "EXIF without a place": encoded("JPEG", exif=exif(6, "2026:05:04 08:35:12")),
    "EXIF with the time of the satellites only": encoded("JPEG", exif=exif(gps={0: b"\2\3\0\0", 29: "2026:05:04"})),
    "XMP of something else": encoded("JPEG", xmp=XMP.format("FNumber").encode()),
    "IPTC byline": iptc_jpeg(80),
    "GIF": encoded("GIF"),
}


@pytest.mark.parametrize("what", WITH_PLACE)
def test_place_is_told_and_not_shown(tmp_path: Path, what: str) -> None:
    """Yes, a remark, and nowhere the coordinates; the copy holds none of it."""
    (tmp_path / "hall").write_bytes(WITH_PLACE[what])
    item, done = photo(tmp_path, "hall")
    assert value(item, "has_location") is True
    assert sentences(done, "photograph-holds-location") == [
        "Photograph hall holds where it was taken; copies in documents leave it out."
    ]
    copy = delivered(tmp_path / "hall", 0)
    assert {marker for marker, _ in segments(copy)} <= {0xE0, 0xDB, 0xC0, 0xC4, 0xDA}
    for hidden in (b"Exif", b"GPS", b"Nowhen", b"xmp", b"Photoshop"):
        assert hidden not in copy
    (tmp_path / "copy.jpg").write_bytes(copy)
    assert value(photo(tmp_path, "copy.jpg")[0], "has_location") is False


@pytest.mark.parametrize("what", WITHOUT_PLACE)
def test_no_place_is_no_remark(tmp_path: Path, what: str) -> None:
    (tmp_path / "hall").write_bytes(WITHOUT_PLACE[what])
    item, done = photo(tmp_path, "hall")
    assert value(item, "has_location") is False
    assert sentences(done, "photograph-holds-location") == []


def test_coordinates_are_in_no_output(tmp_path: Path) -> None:
    """Neither text nor data of a check gives the place out."""
    (tmp_path / "hall.jpg").write_bytes(WITH_PLACE["EXIF of a JPEG"])
    (tmp_path / "record.yaml").write_text(record_text(photos=[{"file": "hall.jpg", "shows": "hall"}]))
    for form in ("text", "json"):
        done = command("check", "record.yaml", "--format", form, folder=tmp_path)
        assert "holds where it was taken" in " ".join(done.stdout.split())
        assert not [text for text in COORDINATES if text in done.stdout + done.stderr]


def test_place_goes_along_only_when_asked_and_alone(tmp_path: Path) -> None:
    held = exif(3, "2026:05:04 08:35:12", gps=SOMEWHERE, description="hall")
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", exif=held))
    with Image.open(io.BytesIO(delivered(tmp_path / "hall.jpg", 60, keep_location=True))) as image:
        passed = image.getexif()
        assert dict(passed.get_ifd(0x8825)) == SOMEWHERE
        assert set(passed) == {0x8825}
        assert dict(passed.get_ifd(0x8769)) == {}
    assert b"Exif" not in delivered(tmp_path / "hall.jpg", 60)


def test_place_asked_for_where_there_is_none(tmp_path: Path) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG"))
    copy = delivered(tmp_path / "hall.jpg", 0, keep_location=True)
    assert copy == delivered(tmp_path / "hall.jpg", 0)


# -- what is delivered


@pytest.mark.parametrize(
    ("most", "size"),
    [
        pytest.param(60, (60, 40), id="smaller"),
        pytest.param(120, (120, 80), id="exactly"),
        pytest.param(500, (120, 80), id="never made larger"),
        pytest.param(0, (120, 80), id="kept"),
        pytest.param(1, (1, 1), id="a dot"),
    ],
)
def test_size_of_the_copy(tmp_path: Path, most: int, size: tuple[int, int]) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG"))
    with Image.open(io.BytesIO(delivered(tmp_path / "hall.jpg", most))) as image:
        assert image.size == size


def test_comment_and_other_texts_stay_behind(tmp_path: Path) -> None:
    data = encoded("JPEG", comment=b"told in confidence", exif=exif(description="told"))
    (tmp_path / "hall.jpg").write_bytes(data)
    copy = delivered(tmp_path / "hall.jpg", 0)
    assert b"told" not in copy
    assert b"Invented" not in copy
    assert 0xFE not in {marker for marker, _ in segments(copy)}


def grey_profile(size: int, space: bytes = b"RGB ") -> bytes:
    """Bytes with the head of a colour profile (ICC.1, bytes 16 to 19 are the colour space, from memory)."""
    return struct.pack(">I", size) + b"\0" * 12 + space + b"\0" * (size - 20)


@pytest.mark.parametrize(
    ("profile", "kept"),
    [
        pytest.param(grey_profile(560), True, id="small"),
        pytest.param(grey_profile(8192), True, id="just small enough"),
        pytest.param(grey_profile(8193), False, id="a byte too large"),
        pytest.param(grey_profile(560, b"CMYK"), False, id="for other colours"),
        pytest.param(b"told", False, id="no profile at all"),
    ],
)
def test_small_colour_profile_goes_along(tmp_path: Path, profile: bytes, kept: bool) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", icc_profile=profile))
    with Image.open(io.BytesIO(delivered(tmp_path / "hall.jpg", 0))) as image:
        assert image.info.get("icc_profile") == (profile if kept else None)


def test_same_file_same_bytes(tmp_path: Path) -> None:
    """In this process and in another."""
    (tmp_path / "hall.jpg").write_bytes(encoded("PNG", exif=exif(6, gps=SOMEWHERE)))
    first = delivered(tmp_path / "hall.jpg", 70, keep_location=True)
    code = (
        "import sys, pathlib; from asfound.photos import delivered\n"
        "sys.stdout.buffer.write(delivered(pathlib.Path(sys.argv[1]), 70, keep_location=True))"
    )
    other = python(code, str(tmp_path / "hall.jpg"))
    assert first == other.stdout == delivered(tmp_path / "hall.jpg", 70, keep_location=True)


def half_clear() -> Image.Image:
    image = Image.new("RGBA", (40, 40), (200, 0, 0, 255))
    image.paste((0, 0, 255, 0), (0, 0, 20, 40))
    return image


def palette_clear() -> Image.Image:
    image = Image.new("P", (40, 40), 1)
    image.putpalette([255, 0, 255, 200, 0, 0] + [0] * 762)
    image.paste(0, (0, 0, 20, 40))
    image.info["transparency"] = 0
    return image


def sixteen_bits() -> Image.Image:
    shades = np.zeros((40, 40), dtype=np.uint16)
    shades[:, 20:] = 0xC0FF
    return Image.fromarray(shades)


@pytest.mark.parametrize(
    ("picture", "form", "left", "right"),
    [
        pytest.param(half_clear(), "PNG", (255, 255, 255), (200, 0, 0), id="clear is shown on white"),
        pytest.param(half_clear(), "WEBP", (255, 255, 255), (200, 0, 0), id="clear WebP"),
        pytest.param(palette_clear(), "PNG", (255, 255, 255), (200, 0, 0), id="clear entry of a palette"),
        pytest.param(half_clear().convert("LA"), "PNG", (255, 255, 255), (60, 60, 60), id="grey and clear"),
        pytest.param(sixteen_bits(), "PNG", (0, 0, 0), (192, 192, 192), id="16 bits of grey"),
        pytest.param(sixteen_bits(), "TIFF", (0, 0, 0), (192, 192, 192), id="16 bits of grey in TIFF"),
        pytest.param(Image.fromarray(np.array([[0.0, 5.0]] * 40, dtype=np.float32).repeat(20, 1)), "TIFF", (0, 0, 0), (255, 255, 255), id="fractions"),
        pytest.param(Image.new("F", (40, 40), 7.5), "TIFF", (0, 0, 0), (0, 0, 0), id="fractions all alike"),
        pytest.param(Image.new("1", (40, 40), 1), "PNG", (255, 255, 255), (255, 255, 255), id="black and white"),
        pytest.param(Image.new("CMYK", (40, 40), (0, 255, 255, 0)), "JPEG", (254, 0, 0), (254, 0, 0), id="printing colours"),
        pytest.param(Image.new("L", (40, 40), 90), "JPEG", (90, 90, 90), (90, 90, 90), id="grey"),
    ],
)  # fmt: skip
def test_every_kind_of_colour_comes_out(
    tmp_path: Path, picture: Image.Image, form: str, left: tuple[int, ...], right: tuple[int, ...]
) -> None:
    more = {"transparency": 0} if picture.mode == "P" else {"lossless": True} if form == "WEBP" else {}
    (tmp_path / "hall").write_bytes(encoded(form, picture, **more))
    with Image.open(io.BytesIO(delivered(tmp_path / "hall", 0))) as image:
        for x, expected in ((10, left), (30, right)):
            pixel = np.array(image.getpixel((x, 20)), dtype=int)
            assert np.abs(pixel - expected).max() <= 6, (x, pixel)


# -- names


OUTSIDE = "its name leads out of the folder of the record"
NAMES = {
    "climbs out": ("../secret.jpg", OUTSIDE),
    "climbs out further down": ("a/../../secret.jpg", OUTSIDE),
    "climbs and comes back": ("a/../hall.jpg", OUTSIDE),
    "absolute": ("/etc/hostname", OUTSIDE),
    "backslashes": ("..\\secret.jpg", OUTSIDE),
    "absolute by a backslash": ("\\secret.jpg", OUTSIDE),
    "drive": ("C:\\secret.jpg", OUTSIDE),
    "drive without a slash": ("C:secret.jpg", OUTSIDE),
    "address": ("https://secret.invalid/hall.jpg", OUTSIDE),
    "address of a file": ("file:///etc/hostname", OUTSIDE),
    "stream": ("a/hall.jpg:other", "its name holds a colon, which not every system allows in a file name"),
    "share": ("\\\\secret\\hall.jpg", OUTSIDE),
    "folder itself": (".", "its name is that of a folder"),
    "longer than a name can be": ("h" * 252 + ".jpg", "its name is longer than a file name can be"),
    "long by its letters": ("ü" * 126 + ".jpg", "its name is longer than a file name can be"),
    "deep": ("a/" * 499 + "hall.jpg", "its name is longer than a file name can be"),
}


@pytest.mark.parametrize("what", NAMES)
def test_name_that_leads_elsewhere_is_cannot_tell(tmp_path: Path, what: str) -> None:
    """The reason is told, no file is opened, and nothing is taken for a defect or for clear."""
    name, reason = NAMES[what]
    (tmp_path / "secret.jpg").write_bytes(encoded("JPEG"))
    inside = tmp_path / "site"
    (inside / "a").mkdir(parents=True)
    (inside / "hall.jpg").write_bytes(encoded("JPEG"))
    item, done = photo(inside, name)
    assert item.data["present"].note == reason
    assert value(item, "present") is None
    assert set(item.data) == {"file", "present", "visit_days"}
    assert [one.reason for one in open_facts(done, "photograph-unreadable")] == [reason]
    assert [f for f in done.results.findings if f.at == item.identity] == []
    assert done.results.failed == []


@pytest.mark.parametrize("name", ["hall.jpg\x00.png", "a\x1bb.jpg", "\x7f", "a\nb"])
def test_control_characters_in_a_name(tmp_path: Path, name: str) -> None:
    with pytest.raises(NotRead, match="control character"):
        opened(tmp_path, name)


def test_half_a_character_in_a_name(tmp_path: Path) -> None:
    with pytest.raises(NotRead, match="half a character"):
        opened(tmp_path, "\ud800.jpg")


@given(st.text(alphabet=st.sampled_from("./\\:aA~$%\x00\n ü\ud800h"), max_size=12))
@settings(max_examples=300, deadline=None)
def test_whatever_the_name_no_part_leads_out(name: str) -> None:
    """What is left of a name are plain entries of folders."""
    try:
        parts = parts_of(name)
    except NotRead:
        return
    assert parts
    for part in parts:
        assert part not in ("", ".", "..")
        assert not set(part) & set("/\\:\x00\n")


def test_folder_below_with_either_slash(tmp_path: Path) -> None:
    """A record written on one system is read on another."""
    (tmp_path / "cellar").mkdir()
    (tmp_path / "cellar" / "hall.jpg").write_bytes(encoded("JPEG"))
    for name in ("cellar/hall.jpg", "cellar\\hall.jpg", "./cellar//hall.jpg"):
        assert value(photo(tmp_path, name)[0], "readable") is True


def test_unicode_forms_of_one_name_are_one_file(tmp_path: Path) -> None:
    """Systems write an umlaut as one character or as two; both look alike on paper (Unicode Annex 15)."""
    composed, parted = unicodedata.normalize("NFC", "dièle.jpg"), unicodedata.normalize("NFD", "dièle.jpg")
    assert composed != parted
    (tmp_path / parted).write_bytes(encoded("JPEG"))
    if (tmp_path / composed).exists():
        pytest.skip("this file system takes both forms for one name")
    assert value(photo(tmp_path, composed)[0], "readable") is True
    (tmp_path / composed).write_bytes(encoded("PNG"))
    assert value(photo(tmp_path, composed)[0], "form") == "PNG"
    assert value(photo(tmp_path, parted)[0], "form") == "JPEG"


def test_other_capitals_are_another_name_and_are_told(tmp_path: Path) -> None:
    (tmp_path / "Hall.JPG").write_bytes(encoded("JPEG"))
    if (tmp_path / "hall.jpg").exists():
        pytest.skip("this file system takes both for one name")
    item, done = photo(tmp_path, "hall.jpg", sha256="0" * 64)
    assert value(item, "present") is False
    assert "Hall.JPG" in item.data["present"].note
    (found,) = findings(done, "photograph-not-as-taken")
    assert any("Hall.JPG" in one.note for one in found.evidence)


def test_hostile_name_of_a_neighbour_is_shown_harmless(tmp_path: Path) -> None:
    """The name of another file that is told holds nothing that turns or breaks a line."""
    try:
        (tmp_path / "HALL\u202egpj.jpg").write_bytes(b"")
    except OSError:
        pytest.skip("this file system has no such name")
    item, _ = photo(tmp_path, "hall.jpg")
    assert item.data["present"].note.isprintable()
    with pytest.raises(NotRead) as raised:
        opened(tmp_path, "hall\u202egpj.jpg")
    assert raised.value.reason.isprintable()
    assert "\\u202e" in raised.value.reason


# -- what is no file


def test_links_are_not_followed(tmp_path: Path) -> None:
    """Out of the folder, inside it, in circles or into nothing: none is opened."""
    (tmp_path / "secret.jpg").write_bytes(encoded("JPEG"))
    inside = tmp_path / "site"
    inside.mkdir()
    (inside / "real.jpg").write_bytes(encoded("JPEG"))
    (inside / "out.jpg").symlink_to("../secret.jpg")
    (inside / "in.jpg").symlink_to("real.jpg")
    (inside / "round.jpg").symlink_to("round.jpg")
    (inside / "nothing.jpg").symlink_to("nowhere.jpg")
    (inside / "above").symlink_to("..", target_is_directory=True)
    for name in ("out.jpg", "in.jpg", "round.jpg", "nothing.jpg", "above/secret.jpg"):
        item, done = photo(inside, name, sha256="0" * 64)
        assert "a link, and links are not followed" in item.data["present"].note
        assert "fingerprint_now" not in item.data
        assert len(open_facts(done, "photograph-not-as-taken")) == 1
        with pytest.raises(NotRead, match="link"):
            delivered_from(inside, name, 60)
    with pytest.raises(NotRead, match="link"):
        delivered(inside / "in.jpg", 60)


def test_link_put_in_place_while_looking_is_not_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The look before opening is not what keeps links out."""
    (tmp_path / "secret.jpg").write_bytes(encoded("JPEG"))
    (tmp_path / "hall.jpg").symlink_to("secret.jpg")
    monkeypatch.setattr("asfound.photos.files._regular", lambda held: None)
    with pytest.raises(NotRead, match="cannot be read"):
        opened(tmp_path, "hall.jpg")


def test_pipe_put_in_place_while_looking_does_not_hang(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(tmp_path / "hall.jpg")
    seen: list[os.stat_result] = []
    from asfound.photos import files

    real = files._regular
    monkeypatch.setattr(files, "_regular", lambda held: real(held) if seen else seen.append(held))
    with pytest.raises(NotRead, match="a pipe, not a file"):
        opened(tmp_path, "hall.jpg")


def test_pipes_sockets_folders_and_devices_are_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each is told by its kind, at once."""
    os.mkfifo(tmp_path / "pipe.jpg")
    (tmp_path / "folder.jpg").mkdir()
    monkeypatch.chdir(tmp_path)  # the name of a socket is short
    held = socket.socket(socket.AF_UNIX)
    held.bind("socket.jpg")
    try:
        for name, kind in (("pipe.jpg", "a pipe"), ("folder.jpg", "a folder"), ("socket.jpg", "a socket")):
            item, done = photo(tmp_path, name)
            assert item.data["present"].note == f"what has its name is {kind}, not a file"
            assert len(open_facts(done, "photograph-unreadable")) == 1
    finally:
        held.close()
    with pytest.raises(NotRead, match="a device, not a file"):
        opened(Path("/dev"), "zero")


def test_folder_in_the_name_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "hall").write_bytes(b"")
    with pytest.raises(NotRead, match="the folder in its name is a file"):
        opened(tmp_path, "hall/01.jpg")


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to this user")
def test_file_without_leave_to_read(tmp_path: Path) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG"))
    (tmp_path / "hall.jpg").chmod(0)
    assert "cannot be read" in photo(tmp_path)[0].data["present"].note


def test_by_path_says_the_same_as_by_handle(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a system knows no folders by handle, names are led through the same way."""
    (tmp_path / "cellar").mkdir()
    (tmp_path / "cellar" / "hall.jpg").write_bytes(encoded("JPEG"))
    os.mkfifo(tmp_path / "pipe.jpg")
    (tmp_path / "above").symlink_to("cellar", target_is_directory=True)
    (tmp_path / "link.jpg").symlink_to("cellar/hall.jpg")
    (tmp_path / "file").write_bytes(b"")
    names = ["cellar/hall.jpg", "cellar/HALL.jpg", "pipe.jpg", "cellar", "link.jpg", "nowhere.jpg", "a/b.jpg", *[name for name, _ in NAMES.values()]]  # fmt: skip
    both = []
    for by_handle in (True, False):
        monkeypatch.setattr("asfound.photos.files._BY_HANDLE", by_handle)
        both.append([look(tmp_path, name) for name in names])
    assert both[0] == both[1]
    for name in ("above/hall.jpg", "file/hall.jpg"):
        with pytest.raises(NotRead):
            opened(tmp_path, name)


# -- what is no picture, or a hostile one


def png(width: int, height: int, more: bytes = b"") -> bytes:
    """A PNG whose head says a size that its data does not have (ISO/IEC 15948, chunks, from memory)."""

    def chunk(name: bytes, held: bytes) -> bytes:
        return struct.pack(">I", len(held)) + name + held + struct.pack(">I", zlib.crc32(name + held))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    data = chunk(b"IDAT", zlib.compress(bytes(1000)))
    return b"\x89PNG\r\n\x1a\n" + head + more + data + chunk(b"IEND", b"")


def text_bomb() -> bytes:
    held = b"note\0\0" + zlib.compress(bytes(80_000_000), 9)
    return struct.pack(">I", len(held)) + b"zTXt" + held + struct.pack(">I", zlib.crc32(b"zTXt" + held))


def said_size(form: str, width: int, height: int) -> bytes:
    """A small picture whose head is rewritten to say another size."""
    data = bytearray(encoded(form))
    if form == "JPEG":
        at = data.index(b"\xff\xc0") + 5
        data[at : at + 4] = struct.pack(">HH", height, width)
    elif form == "GIF":
        data[6:10] = struct.pack("<HH", width, height)
    elif form == "TIFF":
        with Image.open(io.BytesIO(data)) as image:
            offset = struct.unpack("<I", data[4:8])[0]
            assert image.size == (WIDE, HIGH)
        for number in range(struct.unpack("<H", data[offset : offset + 2])[0]):
            entry = offset + 2 + 12 * number
            tag = struct.unpack("<H", data[entry : entry + 2])[0]
            if tag in (256, 257):
                data[entry + 2 : entry + 12] = struct.pack("<HII", 4, 1, width if tag == 256 else height)
    return bytes(data)


HALF = {form: encoded(form)[: len(encoded(form)) // 2] for form in ("JPEG", "PNG", "WEBP", "TIFF", "GIF")}
NO_FORM = "it is no JPEG, PNG, WebP, TIFF or GIF picture"
HOSTILE: dict[str, tuple[bytes, str]] = {
    "nothing in it": (b"", "the file is empty"),
    "one byte": (b"\xff", NO_FORM),
    "text": (b"asfound: 1\n", NO_FORM),
    "web page": (b"<html><script>alert(1)</script>", NO_FORM),
    "drawing with script": (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", NO_FORM),
    "printed page": (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n", NO_FORM),
    "document": (b"%PDF-1.7\n", NO_FORM),
    "archive": (b"PK\x03\x04" + bytes(40), NO_FORM),
    "bitmap": (encoded("BMP"), NO_FORM),
    "all zero": (bytes(100_000), NO_FORM),
    "head of a JPEG alone": (b"\xff\xd8\xff", "the picture in it is damaged"),
    "head of a PNG alone": (b"\x89PNG\r\n\x1a\n", "the picture in it is damaged"),
    "head of a WebP alone": (b"RIFF\0\0\0\0WEBP", "the picture in it is damaged"),
    "bomb of 3.6 gigapixels": (png(60_000, 60_000), "it says it is larger than any picture that is read"),
    "bomb below the limit of the library": (png(9_000, 9_000), "it says it is 9000 by 9000 pixels, more than is read"),
    "one endless line": (png(MAX_SIDE + 1, 1), f"it says it is {MAX_SIDE + 1} by 1 pixels, more than is read"),
    "JPEG that says it is huge": (said_size("JPEG", 65_500, 65_500), "it says it is larger than any picture that is read"),
    "GIF that says it is huge": (said_size("GIF", 65_000, 65_000), "it says it is larger than any picture that is read"),
    "TIFF that says it is huge": (said_size("TIFF", 4_000_000, 4_000_000), "it says it is larger than any picture that is read"),
    "less in it than it says": (png(3_000, 3_000), "the picture in it is cut off"),
    "text in it that swells": (png(10, 10, text_bomb()), "the picture in it is damaged"),
    **{f"half of a {form}": (data, "the picture in it is cut off|the picture in it is damaged") for form, data in HALF.items()},
}  # fmt: skip


@pytest.mark.parametrize("what", HOSTILE)
def test_hostile_file_is_a_remark_with_its_reason(tmp_path: Path, what: str) -> None:
    data, reasons = HOSTILE[what]
    (tmp_path / "hall.jpg").write_bytes(data)
    item, done = photo(tmp_path)
    assert value(item, "readable") is False
    reason = value(item, "trouble")
    assert reason in reasons.split("|")
    assert sentences(done, "photograph-unreadable") == [f"Photograph hall.jpg cannot be read: {reason}."]
    assert {f.grade for f in findings(done, "photograph-unreadable")} == {"remark"}
    assert value(item, "fingerprint_now") == hashlib.sha256(data).hexdigest()
    assert done.results.failed == []
    with pytest.raises(NotRead) as raised:
        delivered(tmp_path / "hall.jpg", 60)
    assert raised.value.reason == reason


def test_picture_at_the_bounds_is_read(tmp_path: Path) -> None:
    """The bounds themselves are allowed."""
    assert MAX_PIXELS == 8_000 * 10_000
    (tmp_path / "large.png").write_bytes(encoded("PNG", Image.new("1", (8_000, 10_000))))
    (tmp_path / "long.png").write_bytes(encoded("PNG", Image.new("1", (MAX_SIDE, 1))))
    for name in ("large.png", "long.png"):
        assert value(photo(tmp_path, name)[0], "readable") is True


@pytest.mark.parametrize(
    ("limit", "read"), [(WIDE * HIGH, True), (WIDE * HIGH - 1, False), (WIDE * HIGH // 2 - 1, False)]
)
def test_limit_of_the_library_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: int, read: bool
) -> None:
    """Where Pillow would only warn of a decompression bomb, nothing is decoded either."""
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", limit)
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG"))
    assert value(photo(tmp_path)[0], "readable") is read


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1", b"avif"])
def test_form_that_is_not_read_is_cannot_tell(tmp_path: Path, brand: bytes) -> None:
    """Nothing is said against the picture; its fingerprint is taken all the same."""
    data = struct.pack(">I", 24) + b"ftyp" + brand + bytes(12)
    (tmp_path / "hall.heic").write_bytes(data)
    item, done = photo(tmp_path, "hall.heic", sha256=hashlib.sha256(data).hexdigest())
    assert value(item, "readable") is None
    (left,) = open_facts(done, "photograph-unreadable")
    assert "is a form that is not read here; save it as JPEG as well" in left.reason
    assert sentences(done, "photograph-unreadable") == []
    assert sentences(done, "photograph-not-as-taken") == []
    with pytest.raises(NotRead, match="not read here"):
        delivered(tmp_path / "hall.heic", 60)


def test_name_that_promises_another_form_is_a_remark(tmp_path: Path) -> None:
    (tmp_path / "hall.JPG").write_bytes(encoded("PNG"))
    assert sentences(photo(tmp_path, "hall.JPG")[1], "photograph-unreadable") == [
        "Photograph hall.JPG is a PNG picture; its name says JPEG."
    ]
    (tmp_path / "hall.jpeg").write_bytes(encoded("JPEG"))
    assert sentences(photo(tmp_path, "hall.jpeg")[1], "photograph-unreadable") == []


def test_file_larger_than_is_read(tmp_path: Path) -> None:
    """A file that pretends to be endless is not read through."""
    with (tmp_path / "hall.jpg").open("wb") as file:
        file.truncate(3 << 40)
    item, done = photo(tmp_path, sha256="0" * 64)
    assert value(item, "trouble") == "the file is larger than 512 MB"
    assert value(item, "fingerprint_now") is None
    assert len(sentences(done, "photograph-unreadable")) == 1
    assert [one.reason for one in open_facts(done, "photograph-not-as-taken")] == ["the file is larger than 512 MB"]


def test_hostile_pictures_take_little_memory(tmp_path: Path) -> None:
    """Within 1 GB of addresses all of them are told as they are."""
    for number, (data, _) in enumerate(HOSTILE.values()):
        (tmp_path / f"{number}.jpg").write_bytes(data)
    code = (
        "import resource, sys, pathlib\n"
        "resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))\n"
        "from asfound.photos.items import look\n"
        "for number in range(int(sys.argv[2])): print(look(pathlib.Path(sys.argv[1]), f'{number}.jpg').trouble)"
    )
    told = python(code, str(tmp_path), str(len(HOSTILE))).stdout.decode().splitlines()
    assert len(told) == len(HOSTILE)
    for line, (_, reasons) in zip(told, HOSTILE.values(), strict=True):
        assert line in reasons.split("|")


SEEDS = [encoded(form, exif=exif(6, "2026:05:04 08:35:12", gps=SOMEWHERE)) for form in ("JPEG", "PNG", "WEBP", "TIFF")]
SEEDS += [encoded("GIF"), encoded("JPEG", progressive=True), encoded("TIFF", compression="tiff_lzw")]


@given(seed=st.sampled_from(SEEDS), number=st.integers(0, 2**32))
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_damaged_picture_never_raises_anything_else(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], seed: bytes, number: int
) -> None:
    """Bytes changed, cut out and cut off anywhere: a fact with a reason or a picture, and a copy or `NotRead`."""
    chance = random.Random(number)
    data = bytearray(seed)
    for _ in range(chance.choice((1, 3, 20))):
        data[chance.randrange(chance.choice((64, 300, len(data))))] = chance.choice((0, 255, chance.randrange(256)))
    if chance.random() < 0.3:
        del data[chance.randrange(len(data)) :]
    (tmp_path / "hall.jpg").write_bytes(bytes(data))
    seen = look(tmp_path, "hall.jpg")
    assert seen.sha256 == hashlib.sha256(data).hexdigest()
    assert (seen.picture is None) == bool(seen.trouble)
    with contextlib.suppress(NotRead):
        copy = delivered(tmp_path / "hall.jpg", 30, keep_location=True)
        assert {marker for marker, _ in segments(copy)} <= {0xE0, 0xE1, 0xDB, 0xC0, 0xC4, 0xDA}
    capfd.readouterr()  # the TIFF library writes its own complaints


# -- the whole record


def test_many_photographs_are_read_each_as_it_is(tmp_path: Path) -> None:
    """Good, bad, missing and hostile ones side by side, in the order listed."""
    kinds = {
        "good": encoded("JPEG"),
        "bomb": png(9_000, 9_000),
        "cut": HALF["JPEG"],
        "huge": png(60_000, 60_000),
        "gone": None,
    }
    listed = [f"{kind}-{number}.jpg" for number in range(12) for kind in kinds]
    for name in listed:
        data = kinds[name.split("-")[0]]
        if data is not None:
            (tmp_path / name).write_bytes(data)
    before = warnings.filters[:]
    done = surveyed(tmp_path, record_text(photos=[{"file": name, "shows": "hall"} for name in listed]))
    assert warnings.filters[:] == before
    items = done.installation.items["photo"]
    assert [item.tag for item in items] == listed
    for item in items:
        kind = item.tag.split("-")[0]
        readable = value(item, "readable") if "readable" in item.data else None
        assert readable == {"good": True, "gone": None}.get(kind, False)
    assert len(sentences(done, "photograph-unreadable")) == 36


def test_one_file_listed_twice(tmp_path: Path) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG"))
    done = surveyed(tmp_path, record_text(photos=[{"file": "hall.jpg", "shows": x} for x in ("hall", "den")]))
    assert [value(item, "readable") for item in done.installation.items["photo"]] == [True, True]


@pytest.mark.parametrize(
    ("visits", "visit", "taken", "said"),
    [
        pytest.param({"V1": "2026-05-04"}, "V1", "2026:05:04 23:59:59", [], id="the day"),
        pytest.param({"V1": "2026-05-04"}, "V1", "2026:05:05 00:00:00", ["its visit was on 2026-05-04"], id="the day after"),
        pytest.param({"V1": "2026-05-04"}, "", "2026:05:05 00:00:00", ["its visit was on 2026-05-04"], id="the only visit"),
        pytest.param({"V1": "2026-05-04", "V2": "2026-05-12"}, "", "2026:05:12 10:00:00", [], id="any visit where none is named"),
        pytest.param({"V1": "2026-05-04", "V2": "2026-05-12"}, "V1", "2026:05:12 10:00:00", ["its visit was on 2026-05-04"], id="the other visit"),
        pytest.param({"V1": "2026-05-04", "V2": "2026-05-12"}, "", "2026:05:08 10:00:00", ["the visits were on 2026-05-04 and 2026-05-12"], id="between"),
        pytest.param({"V1": "2026-05-04"}, "V1", "", [], id="no clock"),
    ],
)  # fmt: skip
def test_day_against_the_visits(
    tmp_path: Path, visits: dict[str, str], visit: str, taken: str, said: list[str]
) -> None:
    (tmp_path / "hall.jpg").write_bytes(encoded("JPEG", exif=exif(taken=taken)))
    held: dict[str, Any] = {"file": "hall.jpg", "shows": "hall"}
    if visit:
        held["visit"] = visit
    named = {tag: {"on": on, "by": "A. Example"} for tag, on in visits.items()}
    done = surveyed(tmp_path, record_text(visits=named, photos=[held]))
    told = sentences(done, "photograph-of-another-day")
    assert [sentence.partition("; ")[2].rstrip(".") for sentence in told] == said


def test_changed_and_lost_files(tmp_path: Path) -> None:
    data = encoded("JPEG")
    (tmp_path / "hall.jpg").write_bytes(data)
    sha256 = hashlib.sha256(data).hexdigest()
    assert sentences(photo(tmp_path, sha256=sha256)[1], "photograph-not-as-taken") == []
    (tmp_path / "hall.jpg").write_bytes(data + b"\0")
    assert (
        "is not the file whose fingerprint"
        in sentences(photo(tmp_path, sha256=sha256)[1], "photograph-not-as-taken")[0]
    )
    (tmp_path / "hall.jpg").unlink()
    assert "is not beside the record" in sentences(photo(tmp_path, sha256=sha256)[1], "photograph-not-as-taken")[0]


def test_pillow_is_not_loaded_where_no_photograph_is(tmp_path: Path) -> None:
    """A record whose photographs are elsewhere costs nothing for them."""
    text = record_text(photos=[{"file": f"{number}.jpg", "shows": "hall"} for number in range(8)])
    (tmp_path / "record.yaml").write_text(text)
    code = (
        "import sys; from asfound.survey import survey\n"
        "survey(sys.argv[1], '2026-01-01'); print(sorted(name for name in sys.modules if name.split('.')[0] == 'PIL'))"
    )
    assert python(code, str(tmp_path / "record.yaml")).stdout.strip() == b"[]"
    (tmp_path / "3.jpg").write_bytes(encoded("JPEG"))
    assert b"PIL.Image" in python(code, str(tmp_path / "record.yaml")).stdout


ROOT = Path(__file__).parent.parent
PATHS = os.pathsep.join(str(ROOT / name) for name in ("engine", "rules", "schemas"))


def python(code: str, *arguments: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONPATH": PATHS},
    )


def command(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-P", "-m", "asfound", *arguments],
        capture_output=True, text=True, cwd=folder, check=False, env={**os.environ, "PYTHONPATH": PATHS},
    )  # fmt: skip
