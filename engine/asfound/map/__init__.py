"""The wiring map: drawings of the traced circuits as found.

`drawings(done)` gives one for each page of each panel, on paper of US letter
width, then what is not traced to a breaker. `drawings(done, only=TAG)` gives one
circuit, or one box, narrow enough for a phone. What is uncertain is drawn as
uncertain, and nothing drawn here says that something is safe.
"""

from asfound.map.make import Drawing, drawings, each_circuit

__all__ = ["Drawing", "drawings", "each_circuit"]
