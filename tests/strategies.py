"""Records to test with: hypothesis strategies for values and spoilt records, and a large record of given size."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

RICH = Path(__file__).parent.parent / "fixtures" / "rich.yaml"
