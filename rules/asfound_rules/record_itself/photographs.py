"""Photographs: missing, changed, not to be read, of another day, or telling more than they should."""

from __future__ import annotations

from asfound.authoring import Defect, given, joined, only_if, rule
from asfound_rules.observed import noted

DEFER = "A remark about the record, not about the wiring; the adopted local code and a licensed electrician decide."


@rule(
    "photograph-not-as-taken",
    of="photo",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: this photograph proves nothing until the file that was taken in is back beside the record.",
    defer=DEFER,
    source="The fingerprint in the record compared with the file, SHA-256 (FIPS 180-4)",
    basis="common practice",
)
def photograph_not_as_taken(photo):
    """Photograph is missing or has changed since its fingerprint was taken.

    Speaks only of photographs taken in with a fingerprint. A turned or resized
    picture is another file.
    """
    fingerprint = noted(photo, "fingerprint")
    if not photo.present:
        yield f"Photograph {photo} was taken in with a fingerprint and is not beside the record."
    elif photo.fingerprint_now != fingerprint:
        yield f"Photograph {photo} is not the file whose fingerprint is in the record."


@rule(
    "photograph-unreadable",
    of="photo",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: this photograph may not open when it is needed, and then nobody sees what it is listed for. Put "
    "the picture back as the camera wrote it, or look again.",
    defer=DEFER,
    source="A picture listed as evidence can be opened; common practice, no source",
    basis="common practice",
)
def photograph_unreadable(photo):
    """Photograph cannot be read, or is not of the form that its name says.

    JPEG, PNG, WebP, TIFF and GIF are read, the first picture of each. Whether
    the picture shows anything is for a person to see.
    """
    only_if(photo.present)
    if not photo.readable:
        yield Defect(f"Photograph {photo} cannot be read: {photo.trouble}.", cause="file")
    else:
        named = given(photo, "named_form", photo.form)
        if named != photo.form:
            yield Defect(f"Photograph {photo} is a {photo.form} picture; its name says {named}.", cause="name")


@rule(
    "photograph-of-another-day",
    of="photo",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: this photograph may show the site before or after what the record tells. Settle when it was taken "
    "before anything is proved by it.",
    defer=DEFER,
    source="The date in the file compared with the dates of the visits; common practice, no source",
    basis="common practice",
)
def photograph_of_another_day(photo):
    """Photograph was not taken on the day of its visit.

    By the clock of the camera, which can be wrong, and which writes the next day
    for work past midnight. Speaks only where the file holds a date.
    """
    taken = noted(photo, "taken")
    days = noted(photo, "visit_days")
    if taken[:10] not in days:
        visits = "its visit was" if len(days) == 1 else "the visits were"
        yield f"Photograph {photo} was taken on {taken[:10]} by the clock of its camera; {visits} on {joined(days)}."


@rule(
    "photograph-holds-location",
    of="photo",
    severity="negligible",
    likelihood="occasional",
    caution="Notice: whoever is given this file learns where it was taken. Copies in documents leave that out; the "
    "file itself and an original in a sealed archive hold it.",
    defer=DEFER,
    source="Exif tags of the location, CIPA DC-008, section on GPS attributes",
    basis="from memory",
)
def photograph_holds_location(photo):
    """Photograph says where it was taken.

    Looks at EXIF, XMP and IPTC of the first picture in the file. What a maker
    hides elsewhere in it is not seen.
    """
    if noted(photo, "has_location"):
        yield f"Photograph {photo} holds where it was taken; copies in documents leave it out."
