"""For rules that speak only where somebody looked."""

from __future__ import annotations

from asfound.authoring import given, only_if


def noted(item, name):
    """The fact `name`; the rule does not apply where the record is silent on it.

    For what people look at or measure here and there. Silence is neither a
    defect nor clear. What could not be seen, with a reason, stays missing.
    """
    value = given(item, name, None)
    only_if(value is not None)
    return value


def among(item, words):
    """Those of `words` that are noted as the condition of an item, in the order written."""
    return [word for word in noted(item, "condition") if word in words]
