"""Photographs that a record lists: found beside the record, read with care, delivered without their location.

A file is looked for in the folder of the record and below it, nowhere else; no
link is followed, and nothing but a regular file is opened (`files`). What a
picture says of itself is read within bounds (`picture`), its copy for a
document is made anew and takes nothing along but pixels and colour profile
(`copies`). Whatever is wrong with a file ends as a fact with its reason
(`items`), or in `NotRead`. Pillow is imported only where a file is there.
"""

from __future__ import annotations

from asfound.photos.copies import delivered, delivered_from
from asfound.photos.files import NotRead, opened
from asfound.photos.items import photo_items

__all__ = ["NotRead", "delivered", "delivered_from", "opened", "photo_items"]
