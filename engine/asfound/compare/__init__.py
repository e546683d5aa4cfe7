"""Two records of one place compared: what was there before, what is repaired, new, changed, or not seen any more.

    found = compare(earlier, later)             # both judged by the tables of one date
    found = compare(earlier, later, before)     # `before`: the earlier one by the tables of its own date

A finding is *repaired* only where the later record says so: the thing is still
there, somebody looked again, and what was seen is recorded otherwise. One that
is gone because the later record is silent is never called repaired; the same
holds the other way round for *new*. To tell, each record is filled up with
what it leaves out and the other one has, and judged again (see `fill`).
"""

from __future__ import annotations

from asfound.compare.results import OUTCOMES, Comparison, Entry
from asfound.compare.work import compare

__all__ = ["OUTCOMES", "Comparison", "Entry", "compare"]
