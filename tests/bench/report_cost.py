"""What each format of a report with 2,000 findings costs, against judging the record that it is made from.

    python tests/bench/report_cost.py

A house of 1,000 cables that end bare in open boxes, on breakers too large for
them. Prints findings, seconds on the clock and of the processor, sizes, and the
ratio to the judging (by the processor), of one run.
"""

from __future__ import annotations

import json
import tempfile
import time
from pathlib import Path

from asfound.report.content import KINDS, Asked, content
from asfound.report.make import FORMATS, make
from asfound.survey import survey

CABLES = 1000


def main() -> None:
    cables, boxes = {}, {}
    for number in range(CABLES):
        boxes[f"B{number}"] = {"kind": "no box", "room": ["kitchen", "hall", "attic"][number % 3]}
        start = f"A {number + 1}" if number < 40 else "not traced"
        cables[f"W{number}"] = {"type": "14/2 NM-B with ground", "from": start, "to": {"at": f"B{number}", "black": "loose",
                                "white": "capped", "bare": "taped"}}  # fmt: skip
    record = {
        "asfound": 1, "invented": True, "site": {"name": "Invented house", "kind": "dwelling", "built": 1960},
        "supply": "120/240 split phase", "visits": {"V1": {"on": "2026-05-04", "by": "A. Example"}},
        "panels": {"A": {"breakers": {str(n + 1): 30 for n in range(40)}}}, "cables": cables, "boxes": boxes,
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "house.json"
        path.write_text(json.dumps(record), encoding="utf-8")
        clock, processor = time.perf_counter(), time.process_time()
        done = survey(path, "2026-05-20")
        judging = time.process_time() - processor
        clock = time.perf_counter() - clock
        print(f"{len(done.results.findings)} findings; judging {clock:.2f} s, processor {judging:.2f} s")
        for name in FORMATS:
            clock, processor = time.perf_counter(), time.process_time()
            ((_, made),) = make(done, path, content(done, Asked(KINDS[0], "2026-05-20")), [name])
            spent = time.process_time() - processor
            clock = time.perf_counter() - clock
            size = len(made) / 1e6
            print(f"{name:5} {clock:6.2f} s, processor {spent:6.2f} s  {spent / judging:5.2f}  {size:6.2f} MB")


if __name__ == "__main__":
    main()
