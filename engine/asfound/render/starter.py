"""A starter record with comments."""

from __future__ import annotations


def starter(supply: str, panel: str, spaces: int) -> str:
    """A record of the right form with nothing in it, and a comment at every place to fill in."""
    examples = "\n".join(f"      # {space}: 15" for space in range(1, spaces + 1))
    return f"""\
# An as-found wiring record. Treat everything as live until it is proven dead.
#
# Any value can be doubted:
#   gauge: 14                                   as seen
#   gauge: {{is: 14, how: by eye}}                as seen, and how
#   gauge: 14 or 12                             what it can be
#   gauge: {{not_seen: jacket painted over}}      why it was not seen
# Ways (how): printed legend, nameplate, marked on it, opened and looked, traced by hand, gauge tool,
# caliper, tape measure, meter, by eye, by feel, jacket colour, label, drawing, told.
asfound: 1

site:
  name: to be filled in
  # kind: dwelling
  # built: 1958

visits: {{}}
  # V1: {{on: 2026-05-04, by: your name, scope: kitchen walls}}

supply: {supply}

panels:
  {panel}:
    # where: cellar, north wall
    # main_amps: 100
    breakers: {{}}
      # Replace the {{}} with a line for each breaker found, by its space. 5/7 takes two spaces.
{examples}

boxes: {{}}
  # hall: octagonal 4 x 1-1/2
  # sink left: {{kind: nonmetallic, volume: 18, room: kitchen}}
  # attic splice: {{kind: no box, where: "attic, by the flue"}}

cables: {{}}
  # From A 1 means black on breaker 1, white on the neutral bar, bare on the ground bar.
  # W1: {{type: 12/2 NM-B with ground, from: {panel} 1, to: hall}}
  # W2: {{type: 14/2 NM-B with ground, from: hall, to: sink left}}
  # W3: {{type: 14/3, from: {{at: hall, red: capped}}, to: {{not_seen: runs into a finished wall}}}}

joints: {{}}
  # J1: {{at: hall, ends: [W1 black, W2 black], connector: twist-on}}
  # J2: {{at: hall, ends: [W1 bare, W2 bare, box]}}

devices: {{}}
  # R1: {{kind: duplex receptacle, at: sink left, wired_to: W2}}
  # S1: {{kind: switch, at: hall, terminals: {{line: W3 black, load: W3 white}}}}

readings: []
  # - {{tag: M1, at: "10:05", kind: voltage, between: [W1 black, W1 bare], value: 121 V}}

log: []
  # - {{at: "10:10", did: switched, what: {panel} 1, to: off}}

# notes: [What else a stranger would need to know.]
"""
