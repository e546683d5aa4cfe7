"""The panel directory against the trace."""

from __future__ import annotations

import re

from asfound.authoring import names, only_if, rule
from asfound_rules.observed import noted

SPARE = re.compile(r"\b(spare(?! +(bed|bath|room|kitchen))|unused|not used|not in use|empty|nothing)\b", re.IGNORECASE)
NO_ENTRY = ("none", "no entry", "no label", "blank", "unlabelled", "not labelled", "?", "-")
STATES = {"missing": "is missing", "partly legible": "can be read in part only"}


@rule(
    "directory-missing",
    of="panel",
    severity="marginal",
    likelihood="remote",
    caution="Warning: without a directory nobody can tell in a hurry which breaker to open. Until it is written, open "
    "the main in an emergency, and prove dead whatever is to be touched.",
    defer="What a directory has to say is for the adopted local code; a licensed electrician traces the circuits.",
    source="NFPA 70 (NEC) 408.4(A), 110.22",
    basis="seen in text",
)
def directory_missing(panel):
    """Circuit directory of a panel is missing or can be read in part only.

    Only where the state of the directory is noted. A trace of the circuits, as
    in this record, is what a new directory is written from.
    """
    state = noted(panel, "directory")
    if state in STATES:
        yield f"The circuit directory of panel {panel} {STATES[state]}."


@rule(
    "breaker-without-entry",
    of="breaker",
    severity="negligible",
    likelihood="occasional",
    caution="Warning: nobody can tell at the panel what this breaker feeds. Find it by the trace, and prove dead "
    "whatever is to be touched.",
    defer="What a directory has to say is for the adopted local code; a licensed electrician traces the circuits.",
    source="NFPA 70 (NEC) 408.4(A)",
    basis="seen in text",
)
def breaker_without_entry(breaker):
    """Breaker with wiring on it has no entry in the directory.

    Only where somebody noted that there is none (label: none). A breaker whose
    label was not written down is not judged.
    """
    entry = noted(breaker, "label")
    if entry.strip().lower() not in NO_ENTRY:
        return
    only_if(breaker.conductors)
    yield f"{breaker} has no entry in the directory; {_feeds(breaker)}."


@rule(
    "breaker-called-spare-is-in-use",
    of="breaker",
    severity="catastrophic",
    likelihood="remote",
    caution="Warning: who takes this breaker for a spare may switch it on or take its wires off while they are live, "
    "which can kill. Correct the entry, and treat the wires as live.",
    defer="What a directory has to say is for the adopted local code; a licensed electrician traces the circuits.",
    source="NFPA 70 (NEC) 408.4(A), spare positions described as such since 2008",
    basis="seen in text",
)
def breaker_called_spare_is_in_use(breaker):
    """Directory calls a breaker spare, and wiring is on it.

    Often the load is gone and the cable stayed, live and forgotten at its far
    end.
    """
    entry = noted(breaker, "label")
    if not SPARE.search(entry):
        return
    only_if(breaker.conductors)
    yield f'The directory calls {breaker} "{entry}"; {_feeds(breaker)}.'


@rule(
    "directory-contradicts-trace",
    of="breaker",
    severity="catastrophic",
    likelihood="improbable",
    caution="Warning: who goes by the directory opens the wrong breaker and works on live wiring, which can kill. "
    "Go by the trace, prove dead whatever is to be touched, and correct the directory.",
    defer="What a directory has to say is for the adopted local code; a licensed electrician traces the circuits.",
    source="NFPA 70 (NEC) 408.4(A); directories are often wrong by common practice",
    basis="seen in text",
)
def directory_contradicts_trace(breaker):
    """Directory entry names what another breaker feeds.

    Only plain contradictions: the entry names a kind of appliance or of room,
    nothing that the breaker feeds is of that kind or in such a room, and
    something else that is so is fed by another breaker. Entries such as lights
    or upstairs say too little to be held against anything.
    """
    meant = breaker.named_elsewhere
    only_if(meant)
    others = {str(b): b for device in meant for b in device.breakers}
    verb = "is" if len(meant) == 1 else "are"
    yield (
        f'The directory calls {breaker} "{breaker.label}"; {_feeds(breaker)}, and {names(meant)} {verb} on '
        f"{names(others)}."
    )


def _feeds(breaker):
    found = breaker.devices
    return f"it feeds {names(found)}" if found else f"{names(breaker.conductors)} on it"
