"""The record: items of a site with their facts, each fact with its place and how it is known."""

from asfound.record.build import Record, build
from asfound.record.facts import Fact, Item

__all__ = ["Fact", "Item", "Record", "build"]
