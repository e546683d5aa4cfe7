"""Tests marked `uncounted` run without their lines being counted: random examples, of which others reach the same."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Iterator[None]:
    """Take the tracer of coverage off for one test; `no_cover` of pytest-cov does not where workers run the tests."""
    tracer = sys.gettrace()
    if tracer is None or item.get_closest_marker("uncounted") is None:
        return (yield)
    sys.settrace(None)
    try:
        return (yield)
    finally:
        sys.settrace(tracer)
