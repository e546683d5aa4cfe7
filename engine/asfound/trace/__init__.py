"""Trace the record: what is solidly joined, what each breaker feeds, what each conductor does.

One pass, in time linear in the number of conductors, joints and terminals
(`MAX_JOINED` bounds the one place where it could be worse). Adds to the items
of the record the facts and relations that the fact catalogue names as traced.
"""

from asfound.trace.circuits import Installation, trace
from asfound.trace.reach import MAX_JOINED

__all__ = ["MAX_JOINED", "Installation", "trace"]
