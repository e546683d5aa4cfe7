"""Words that many rules share: functions of a live conductor, colours, kinds of receptacle and of dwelling."""

LIVE = ("ungrounded", "switched", "traveller")
"""What a conductor does that a breaker feeds."""
WHITE = ("white", "grey")
"""Colours of a grounded conductor."""
GREEN = ("bare", "green", "green/yellow")
"""Colours of a grounding conductor."""
ORDINARY_RECEPTACLES = ("duplex receptacle", "single receptacle")
"""Receptacles of 15 or 20 A."""
HOMES = ("dwelling", "manufactured home")
"""Uses of a building in which people live."""
A_HAIR = 1e-9
"""Added where two computed figures that are equal on paper are compared."""
