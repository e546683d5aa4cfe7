"""Typed items for people who write rules: what each kind of item holds, with unit, meaning and words.

Written by `asfound rule facts --typed` from the catalogue of facts; not edited by hand.

    from asfound.items import Box

    def cover_missing(box: Box): ...

With the item so marked an editor completes its facts, and a type checker names
a misspelt one. At run time a rule is given views of a record, not these
classes; nothing is made of them.
"""

from __future__ import annotations

from typing import Literal

from asfound.judge.tables import Tables
from asfound.judge.views import View

__all__ = [
    "Box",
    "Breaker",
    "Cable",
    "Circuit",
    "Claim",
    "Conductor",
    "Contradiction",
    "Device",
    "End",
    "Entry",
    "Instrument",
    "Joint",
    "Label",
    "Net",
    "Panel",
    "Photo",
    "Probe",
    "Reading",
    "Site",
    "Tables",
    "Terminal",
]

SiteKind = Literal[
    "dwelling",
    "shop",
    "outbuilding",
    "manufactured home",
    "other",
]
SiteSupply = Literal[
    "120/240 split phase",
    "208Y/120",
    "230 single phase",
]
PanelOtherSource = Literal[
    "none",
    "generator",
    "inverter",
    "battery",
]
PanelTransfer = Literal[
    "transfer switch",
    "interlock",
    "none",
]
PanelRoom = Literal[
    "kitchen",
    "bathroom",
    "laundry",
    "bedroom",
    "living room",
    "hall",
    "stairs",
    "closet",
    "garage",
    "basement",
    "crawl space",
    "attic",
    "porch",
    "outdoors",
    "shop",
    "other",
]
PanelDirectory = Literal[
    "legible",
    "partly legible",
    "missing",
]
PanelCover = Literal[
    "on",
    "off",
    "missing",
    "open spaces",
]
PanelCondition = Literal[
    "sound",
    "scorched",
    "melted",
    "arc marks",
    "brittle",
    "cracked",
    "chewed",
    "wet",
    "corroded",
    "damaged",
    "loose",
    "painted over",
]
BreakerKind = Literal[
    "breaker",
    "plug fuse",
    "type S fuse",
    "cartridge fuse",
]
BreakerLegs = Literal[
    "L1",
    "L2",
    "L3",
]
BreakerState = Literal[
    "on",
    "off",
    "tripped",
    "removed",
]
BreakerTie = Literal[
    "none",
    "handle tie",
    "common trip",
]
BreakerProtection = Literal[
    "none",
    "ground-fault",
    "arc-fault",
    "dual",
]
BreakerTestButton = Literal[
    "trips",
    "does not trip",
    "not tried",
]
CableMethod = Literal[
    "NM",
    "NM-B",
    "NMC",
    "UF-B",
    "AC",
    "MC",
    "SE",
    "SER",
    "USE",
    "EMT",
    "rigid conduit",
    "flexible metal conduit",
    "PVC conduit",
    "surface raceway",
    "knob-and-tube",
    "flexible cord",
    "cloth cable",
    "low voltage",
    "other",
]
CableJacket = Literal[
    "white",
    "yellow",
    "orange",
    "black",
    "grey",
    "tan",
    "brown",
    "blue",
    "silver",
    "cloth",
    "none",
]
CableMetal = Literal[
    "copper",
    "aluminium",
    "copper-clad aluminium",
]
CableClamped = Literal[
    "clamp",
    "bushing",
    "nothing",
    "not needed",
]
CableRunsIn = Literal[
    "dry inside",
    "attic",
    "crawl space",
    "basement",
    "wall cavity",
    "outdoors",
    "underground",
    "wet place",
]
ConductorColour = Literal[
    "black",
    "white",
    "grey",
    "red",
    "blue",
    "green",
    "yellow",
    "brown",
    "orange",
    "purple",
    "pink",
    "tan",
    "bare",
    "green/yellow",
    "white/black",
    "white/red",
    "white/blue",
    "clear",
    "unreadable",
]
ConductorMarked = Literal[
    "black",
    "white",
    "grey",
    "red",
    "blue",
    "green",
    "yellow",
    "brown",
    "orange",
    "purple",
    "pink",
    "tan",
    "bare",
    "green/yellow",
    "white/black",
    "white/red",
    "white/blue",
    "clear",
    "none",
]
ConductorFunction = Literal[
    "ungrounded",
    "switched",
    "traveller",
    "grounded",
    "grounding",
    "isolated",
]
ConductorColourRole = Literal[
    "ungrounded",
    "switched",
    "traveller",
    "grounded",
    "grounding",
]
ConductorState = Literal[
    "live",
    "proven dead",
    "treat as live",
]
EndState = Literal[
    "landed",
    "spliced",
    "capped",
    "taped",
    "loose",
    "cut",
    "not traced",
]
BoxKind = Literal[
    "octagonal 4 x 1-1/4",
    "octagonal 4 x 1-1/2",
    "octagonal 4 x 2-1/8",
    "square 4 x 1-1/4",
    "square 4 x 1-1/2",
    "square 4 x 2-1/8",
    "square 4-11/16 x 1-1/4",
    "square 4-11/16 x 1-1/2",
    "square 4-11/16 x 2-1/8",
    "device 3 x 2 x 1-1/2",
    "device 3 x 2 x 2",
    "device 3 x 2 x 2-1/4",
    "device 3 x 2 x 2-1/2",
    "device 3 x 2 x 2-3/4",
    "device 3 x 2 x 3-1/2",
    "utility 4 x 2-1/8 x 1-1/2",
    "utility 4 x 2-1/8 x 1-7/8",
    "utility 4 x 2-1/8 x 2-1/8",
    "masonry 3-3/4 x 2 x 2-1/2",
    "masonry 3-3/4 x 2 x 3-1/2",
    "FS 1-3/4",
    "FD 2-3/8",
    "nonmetallic",
    "fan-rated",
    "other",
    "no box",
]
BoxCover = Literal[
    "blank cover",
    "device plate",
    "canopy",
    "luminaire",
    "missing",
    "broken",
]
BoxClamps = Literal[
    "internal",
    "outside",
    "none",
]
BoxFixedTo = Literal[
    "stud",
    "joist",
    "hanger bar",
    "masonry",
    "old-work clips",
    "ceiling finish only",
    "nothing",
]
BoxSurface = Literal[
    "drywall",
    "plaster",
    "wood",
    "tile",
    "masonry",
    "metal",
    "open framing",
]
BoxHiddenBy = Literal[
    "drywall",
    "plaster",
    "panelling",
    "insulation",
    "flooring",
    "furniture",
    "nothing",
]
BoxState = Literal[
    "live",
    "treat as live",
]
JointConnector = Literal[
    "twist-on",
    "push-in",
    "lever",
    "crimp",
    "split bolt",
    "set screw",
    "solder and tape",
    "tape only",
    "terminal screw",
    "twisted bare",
    "other",
]
JointListedFor = Literal[
    "copper only",
    "aluminium only",
    "copper and aluminium",
    "not marked",
]
DeviceKind = Literal[
    "duplex receptacle",
    "single receptacle",
    "range receptacle",
    "dryer receptacle",
    "switch",
    "three-way switch",
    "four-way switch",
    "double-pole switch",
    "dimmer",
    "timer",
    "luminaire",
    "fan",
    "smoke alarm",
    "heater",
    "water heater",
    "range",
    "dryer",
    "air conditioner",
    "motor",
    "welder",
    "pump",
    "appliance",
    "bell transformer",
    "lampholder",
]
DeviceTab = Literal[
    "in place",
    "removed",
]
DevicePosition = Literal[
    "on",
    "off",
    "up",
    "down",
]
DeviceTerminalMark = Literal[
    "copper only",
    "CO/ALR",
    "CU/AL",
    "not marked",
]
DeviceServes = Literal[
    "counter",
    "general",
    "one appliance",
    "laundry",
    "vehicle",
    "outdoors",
    "inside a cabinet",
]
DeviceHungFrom = Literal[
    "fan-rated box",
    "ordinary box",
    "joist",
    "ceiling finish",
]
DeviceGroundPath = Literal[
    "yes",
    "no",
]
TerminalConnection = Literal[
    "ungrounded",
    "switched",
    "traveller",
    "grounded",
    "grounding",
    "isolated",
    "live through a load",
]
NetBars = Literal[
    "neutral bar",
    "ground bar",
    "lug 1",
    "lug 2",
    "lug 3",
]
ReadingKind = Literal[
    "voltage",
    "continuity",
    "resistance",
    "current",
    "non-contact",
    "lamp tester",
]
ReadingSignal = Literal[
    "silent",
    "signal",
    "open",
    "closed",
    "OL",
]
LabelOnKind = Literal[
    "cable",
    "conductor",
    "device",
    "box",
    "joint",
    "breaker",
    "panel",
    "other",
]
EntryDid = Literal[
    "switched",
    "tested",
    "called dead",
    "cut",
    "capped",
    "labelled",
    "moved",
    "locked",
    "tagged",
    "opened",
    "closed",
    "told",
    "stopped",
    "put in",
    "taken out",
]
ContradictionKind = Literal[
    "live while off",
    "dead while on",
    "live and dead",
]
PhotoForm = Literal[
    "JPEG",
    "PNG",
    "WebP",
    "TIFF",
    "GIF",
]
PhotoTurned = Literal[
    "upright",
    "mirrored",
    "half turn",
    "half turn, mirrored",
    "quarter turn left, mirrored",
    "quarter turn right",
    "quarter turn right, mirrored",
    "quarter turn left",
]
InstrumentType = Literal[
    "multimeter",
    "low-impedance meter",
    "two-pole tester",
    "non-contact tester",
    "lamp tester",
    "clamp meter",
    "insulation tester",
    "gauge tool",
    "caliper",
    "tape measure",
]
ProbeWorst = Literal[
    "catastrophic",
    "critical",
    "marginal",
    "negligible",
]


class Site(View):
    """The place."""

    kind: SiteKind
    """Use of the building. To see it: note what the building is used for."""

    built: float
    """Year the building was built. To see it: ask the owner or the local records for the building year."""

    code: str
    """Code and edition in force as told by the local authority. To see it: ask the local authority which edition is
    adopted.
    """

    supply: SiteSupply
    """Voltage and phases of the supply. To see it: read the meter and the service equipment."""

    service_amps: float
    """Rating of the service, in amperes. To see it: read the main breaker or fuse."""

    panels: tuple[Panel, ...]
    """Its panels."""

    breakers: tuple[Breaker, ...]
    """All breakers."""

    devices: tuple[Device, ...]
    """All devices."""

    boxes: tuple[Box, ...]
    """All boxes."""

    cables: tuple[Cable, ...]
    """All cables."""


class Panel(View):
    """A panelboard, fuse box or load centre."""

    where: str
    """Where it is."""

    main_amps: float
    """Rating of its main breaker or fuse, in amperes. To see it: read the main breaker."""

    bus_amps: float
    """Rating of its bus, in amperes. To see it: read the label inside the door."""

    other_source: PanelOtherSource
    """Another supply that can feed it: none, generator, inverter or battery. To see it: follow every cable that lands
    on the bus or main lugs.
    """

    transfer: PanelTransfer
    """What keeps the other source and the utility apart. To see it: look for a transfer switch or interlock."""

    open_spaces: float
    """Openings in the dead front with neither breaker nor filler. To see it: look at the dead front."""

    clear_depth: float
    """Free working depth in front, in inches. To see it: measure in front of the panel."""

    room: PanelRoom
    """Kind of room. To see it: note the room."""

    directory: PanelDirectory
    """State of its circuit directory. To see it: read the directory."""

    bonded: bool
    """Whether neutral is bonded to the enclosure here. To see it: look for the bonding screw or strap, dead front off,
    by a licensed electrician.
    """

    disconnect_ahead: bool
    """A service disconnect stands between the meter and this panel. To see it: look at the meter and outside for a
    disconnect.
    """

    metal: bool
    """Whether the enclosure is metal. To see it: look at the enclosure."""

    feeder_ground: bool
    """Its feeder has a grounding conductor or a metal raceway. To see it: look at the feeder where it enters the
    panel.
    """

    service: bool
    """Fed by the supply and not by another panel, as recorded. To see it: note what feeds the panel."""

    cover: PanelCover
    """State of the dead front. To see it: look at the dead front."""

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look at the bus and the breakers."""

    breakers: tuple[Breaker, ...]
    """Its breakers."""

    feeder: tuple[Breaker, ...]
    """The breaker of another panel that feeds it."""

    fed_from: str
    """What is said to feed it: supply, or a breaker of another panel. To see it: follow the conductors on its main
    lugs.
    """

    lug_breakers: tuple[Breaker, ...]
    """Breakers solidly joined to its main lugs. To see it: follow the conductors on its main lugs."""

    lugs: tuple[Conductor, ...]
    """Conductors on its main lugs."""


class Breaker(View):
    """A breaker or fuse, all its poles."""

    kind: BreakerKind
    """Breaker or kind of fuse. To see it: look at the device."""

    amps: float
    """Rating, in amperes. To see it: read the handle or the fuse."""

    poles: float
    """Number of poles. To see it: look at the device."""

    legs: tuple[BreakerLegs, ...]
    """Leg of each pole, in order. To see it: measure between this breaker and one whose leg is known."""

    state: BreakerState
    """Position as found. To see it: look at the handle."""

    tie: BreakerTie
    """What ties it to its neighbour. To see it: look at the handles."""

    protection: BreakerProtection
    """Fault protection built in. To see it: read the face of the breaker."""

    label: str
    """What the directory says. To see it: read the panel directory."""

    wires_allowed: float
    """Conductors its terminal is marked for. To see it: read the marking of the breaker."""

    test_button: BreakerTestButton
    """What its test button did. To see it: press the test button and reset."""

    most_on_one_pole: tuple[Conductor, ...]
    """Conductors under its fullest terminal."""

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look at the breaker."""

    panel: Panel
    """Its panel."""

    tied_with: tuple[Breaker, ...]
    """The breaker it is tied to."""

    named_elsewhere: tuple[Device, ...]
    """Devices of the kind or in the room that its directory entry names, when none of them is on it and others feed
    them. To see it: trace what its directory entry names.
    """

    receptacles: float
    """Receptacle contact devices on its circuit, a duplex counting two."""

    nameplate_loads: tuple[Device, ...]
    """Motors, air conditioners and welders it feeds."""

    devices: tuple[Device, ...]
    """Devices on its circuit."""

    conductors: tuple[Conductor, ...]
    """Ungrounded conductors it feeds."""

    circuits: tuple[Circuit, ...]
    """The circuit it starts."""


class Cable(View):
    """A cable, or a run of single wires, between two places."""

    method: CableMethod
    """Wiring method. To see it: read the printed legend or look at the jacket."""

    legend: str
    """Printed legend. To see it: clean the jacket and read its print."""

    jacket: CableJacket
    """Jacket colour. To see it: look at the jacket."""

    gauge: str
    """Size of its circuit conductors. To see it: read the printed legend, or gauge the bare conductor with the power
    proven off.
    """

    ground_gauge: str
    """Size of its grounding conductor. To see it: gauge the grounding conductor."""

    metal: CableMetal
    """Metal of its conductors. To see it: look at a cut end under good light, or read the legend for AL."""

    installed: float
    """Year it was put in. To see it: ask the owner or date the cable by its legend."""

    length: float
    """Length one way, in feet. To see it: measure the run."""

    ambient_c: float
    """Temperature around it, in degrees Celsius. To see it: measure the temperature along the run."""

    bundled: float
    """Cables in the bundle. To see it: count the cables in the bundle."""

    support_spacing: float
    """Largest distance between supports, in inches. To see it: measure between supports."""

    first_support: float
    """Distance from the box to the first support, in inches. To see it: measure to the first support."""

    fished: bool
    """Fished through a finished wall. To see it: ask whoever ran it."""

    face_distance: float
    """From the edge of the hole to the face of the framing, in inches. To see it: measure from the edge of the hole."""

    plate: bool
    """Steel plate over the hole. To see it: look for a plate."""

    insulated_over: bool
    """Thermal insulation around it. To see it: look along the run."""

    terminals_c: float
    """Lowest temperature marking of the terminals at its two ends, in degrees Celsius. To see it: read the marking at
    both terminals.
    """

    clamped: CableClamped
    """How it is held at the box. To see it: look where it enters the box."""

    runs_in: CableRunsIn
    """The harshest place it runs through. To see it: look along the run."""

    exposed: bool
    """Runs where it can be hit. To see it: look along the run."""

    at_ceiling_luminaire: bool
    """Ends in or runs over the box of a hot ceiling luminaire. To see it: look above the luminaire."""

    spacing: float
    """Distance between open conductors, in inches. To see it: measure between the conductors."""

    sheath_in_box: float
    """Length of sheath inside the box, in inches. To see it: look where it enters the box."""

    legend_gauge: str
    """Size in its printed legend. To see it: clean the jacket and read its print."""

    metal_way: bool
    """Its raceway or armour is of metal. To see it: look at the cable or raceway."""

    jacket_gauge: tuple[str, ...]
    """Sizes that makers give its jacket colour. To see it: look at the jacket."""

    breakers: tuple[Breaker, ...]
    """Breakers that feed any of its conductors. To see it: trace it to its breaker."""

    ends_in: tuple[Box, ...]
    """The boxes at its two ends."""

    capped_at: tuple[Box, ...]
    """Boxes in which every live conductor of it ends capped. To see it: look at its ends."""

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look at the cable along its run."""

    conductors: tuple[Conductor, ...]
    """Its conductors."""

    boxes: tuple[Box, ...]
    """Boxes at its ends."""


class Conductor(View):
    """One conductor of a cable."""

    colour: ConductorColour
    """Insulation colour, or bare. To see it: look at the insulation where it is clean."""

    marked: ConductorMarked
    """Marking added at its ends: a colour, or none. To see it: look at both ends for tape or paint."""

    gauge: str
    """Size. To see it: read the printed legend, or gauge the bare conductor with the power proven off."""

    metal: CableMetal
    """Metal. To see it: look at a cut end under good light, or read the legend for AL."""

    method: CableMethod
    """Wiring method of its cable. To see it: read the printed legend or look at the jacket."""

    installed: float
    """Year its cable was put in, or the building year when that is all that is known. To see it: ask the owner or date
    the cable by its legend.
    """

    stranded: bool
    """Stranded. To see it: look at a cut end."""

    diameter: float
    """Measured over the bare metal, in millimetres. To see it: measure with a caliper."""

    insulation: str
    """Insulation type as read. To see it: read the insulation."""

    insulation_c: float
    """Temperature rating of the insulation, in degrees Celsius. To see it: read the insulation or the legend."""

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look at the conductor."""

    cable: Cable
    """Its cable."""

    ends: tuple[End, ...]
    """Its two ends."""

    net: Net
    """What it is solidly connected to."""

    function: ConductorFunction
    """What it does as connected: ungrounded, switched, traveller, grounded, grounding or isolated. To see it: trace
    both of its ends to a breaker or a bar.
    """

    by_colour_only: bool
    """Nothing but its colour tells what it does; ask no colour rule."""

    colour_role: ConductorColourRole
    """What its colour suggests. To see it: look at the insulation where it is clean."""

    breakers: tuple[Breaker, ...]
    """Breakers ahead of it, directly or through switches. To see it: trace it to its breaker, or switch breakers off
    one at a time and test.
    """

    switch_supply: bool
    """Whether it is the constant supply of a switch, or a traveller. To see it: trace the switch loop."""

    ahead: tuple[Conductor, ...]
    """The conductor ahead of it on the way from the panel."""

    state: ConductorState
    """Live, proven dead or treat as live, as the log has it at its end. To see it: prove it dead: known live source,
    every pair, known live source again, its breakers off and locked.
    """


class End(View):
    """One end of a conductor."""

    state: EndState
    """Landed, spliced, capped, taped, loose, cut or not traced. To see it: open the place where it ends and look,
    power proven off.
    """

    conductor: Conductor
    """Its conductor."""

    boxes: tuple[Box, ...]
    """The box it ends in."""

    devices: tuple[Device, ...]
    """The devices in the place where it ends."""


class Box(View):
    """A box, or an open place where wires end."""

    kind: BoxKind
    """Shape and trade size. To see it: measure the box."""

    volume: float
    """Marked or measured volume, in cubic inches. To see it: read the volume marked inside, or measure the box."""

    added_volume: float
    """Volume marked on a ring or extension, in cubic inches. To see it: read the ring."""

    metal: bool
    """Metal box. To see it: look at the box."""

    cover: BoxCover
    """What closes it. To see it: look at the box."""

    reachable: bool
    """Can be opened without removing building parts. To see it: find how the box can be reached."""

    clamps: BoxClamps
    """Internal, outside or none. To see it: look where the cables enter."""

    support_fittings: float
    """Kinds of stud or hickey inside. To see it: look inside the box."""

    canopy_wires: float
    """Small wires from a domed canopy. To see it: look inside the canopy."""

    fixed_to: BoxFixedTo
    """What it is fixed to. To see it: look how the box is fixed."""

    setback: float
    """Depth behind the finished surface, in inches. To see it: measure the depth."""

    surface: BoxSurface
    """Finished surface around it. To see it: look at the surface."""

    free_length: float
    """Shortest free conductor, in inches. To see it: measure the shortest conductor."""

    opening: float
    """Smallest dimension of the opening, in inches. To see it: measure the opening."""

    room: PanelRoom
    """Kind of room. To see it: note the room."""

    hidden_by: BoxHiddenBy
    """What hides it. To see it: note what hides it."""

    low_voltage_too: bool
    """Low-voltage conductors in it without a partition. To see it: look into the box."""

    wet_place: bool
    """Rain or splashed water reaches it. To see it: look at the place."""

    damp_cover: bool
    """Its cover is made for wet places. To see it: look at the cover."""

    open_knockouts: float
    """Unused openings that are open. To see it: look at the sides of the box."""

    nets: tuple[Net, ...]
    """What its conductors are joined to."""

    grounding_nets: tuple[Net, ...]
    """Nets of the grounding conductors that end in it."""

    bonded_to: tuple[Net, ...]
    """The net its metal is joined to."""

    ground_here: bool
    """A grounding conductor that leads to a bar ends in it. To see it: trace the grounding conductors in the box."""

    on_ground: bool
    """Its metal is joined to a grounding conductor, as recorded. To see it: look for the screw or clip that holds a
    grounding conductor to the box, power proven off.
    """

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look into the box."""

    state: BoxState
    """Live or treat as live, as the log has its metal at its end. To see it: read from its metal to earth, by a
    qualified person.
    """

    conductors: tuple[Conductor, ...]
    """Conductors that end in it."""

    passing: tuple[Conductor, ...]
    """Conductors that pass through unbroken."""

    looped: tuple[Conductor, ...]
    """Conductors that pass through with a long loop."""

    cables: tuple[Cable, ...]
    """Cables that enter it."""

    joints: tuple[Joint, ...]
    """Joints in it."""

    devices: tuple[Device, ...]
    """Devices in it."""

    breakers: tuple[Breaker, ...]
    """Breakers whose circuits enter it. To see it: trace what enters the box."""

    known_breakers: tuple[Breaker, ...]
    """Breakers that certainly reach what is in it. To see it: trace what enters the box."""

    unidentified: tuple[Conductor, ...]
    """Conductors in it that are joined to nothing known and noted as not traced. To see it: trace both ends of each
    conductor.
    """


class Joint(View):
    """Conductor ends held together."""

    connector: JointConnector
    """What holds them. To see it: open the splice and look, power proven off."""

    listed_for: JointListedFor
    """Metals its connector is marked for. To see it: read the connector or its listing."""

    holds: float
    """Conductors its marking allows. To see it: read the connector or its listing."""

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look at the joint."""

    in_box: bool
    """Whether it is inside a box. To see it: look where the splice is."""

    box: tuple[Box, ...]
    """The box or open place it is in."""

    conductors: tuple[Conductor, ...]
    """Conductors it holds."""

    size: float
    """Number of ends it holds."""


class Device(View):
    """A device or load."""

    kind: DeviceKind
    """What it is. To see it: look at the device."""

    rating: float
    """Amperes marked on it, in amperes. To see it: read the marking."""

    volts: float
    """Volts marked on it, in volts. To see it: read the marking."""

    watts: float
    """Load, in watts. To see it: read the marking or the lamp."""

    continuous: bool
    """Runs three hours or more. To see it: ask how it is used."""

    slots: float
    """Contacts of each receptacle. To see it: look at the face."""

    marked: str
    """Marks that matter. To see it: read the plate."""

    gangs: float
    """Width in gangs. To see it: look at the plate."""

    tab: DeviceTab
    """Tab between the ungrounded screws. To see it: look at the side of the device."""

    position: DevicePosition
    """Position of the handle as found. To see it: look at the handle."""

    protection: BreakerProtection
    """Fault protection built in. To see it: look at the face and test button."""

    terminal_mark: DeviceTerminalMark
    """Metal marking of its terminals. To see it: read the strap."""

    screws_shared: bool
    """Two conductors under one plain screw of it. To see it: look, power proven off: one under the screw and one in
    the hole, or both under the screw?.
    """

    room: PanelRoom
    """Kind of room. To see it: note the room."""

    unfinished: bool
    """The space around it is unfinished. To see it: note whether the basement is finished."""

    serves: DeviceServes
    """What part of the room it serves: counter, general, one appliance .... To see it: note what it serves."""

    to_water: float
    """Distance to the nearest sink or tub, in feet. To see it: measure to the nearest sink or tub."""

    over_tub: bool
    """Inside the tub or shower zone. To see it: measure from the tub rim."""

    test_button: BreakerTestButton
    """What its test button did. To see it: press the test button and reset."""

    lamp_c: float
    """Temperature it asks of its supply wires, in degrees Celsius. To see it: read the label of the luminaire."""

    hung_from: DeviceHungFrom
    """What carries it. To see it: look how it is hung."""

    weight: float
    """Weight, in pounds. To see it: read the label."""

    receptacles: float
    """Receptacle contact devices on it, a duplex counting two."""

    is_load: bool
    """A load itself, not a receptacle or a switch."""

    ground_fault_protected: bool
    """Ground-fault protected by itself, from upstream or by its breaker. To see it: look for the protection at the
    device and at the breaker and press its test button.
    """

    arc_fault_protected: bool
    """Arc-fault protected by itself, from upstream or by its breaker. To see it: look for the protection at the device
    and at the breaker.
    """

    ground_path: DeviceGroundPath
    """Whether its grounding terminal leads to a bar, as recorded: yes or no. To see it: open it and trace its
    grounding conductor.
    """

    metal: bool
    """Has metal that can be touched. To see it: look at the device."""

    condition: tuple[PanelCondition, ...]
    """What was seen of its condition. To see it: look at the device."""

    amps: float
    """Nameplate current, in amperes. To see it: read the nameplate."""

    max_breaker_amps: float
    """Largest breaker by its nameplate, in amperes. To see it: read the nameplate."""

    min_circuit_amps: float
    """Minimum circuit ampacity by its nameplate, in amperes. To see it: read the nameplate."""

    plugged_amps: float
    """Largest load plugged into it, in amperes. To see it: read the nameplate of what is plugged in."""

    yoke: bool
    """Mounted on a yoke or strap in a box."""

    by_nameplate: bool
    """A motor, air conditioner or welder, whose breaker goes by its nameplate."""

    box: tuple[Box, ...]
    """Its box."""

    conductors: tuple[Conductor, ...]
    """Conductors on its terminals."""

    terminals: tuple[Terminal, ...]
    """Its terminals in use."""

    breakers: tuple[Breaker, ...]
    """Breakers that feed it. To see it: trace it to its breaker."""


class Terminal(View):
    """One terminal of a device."""

    name: str
    """Hot, neutral, ground, line, load, common, traveller_1 ...."""

    net: Net
    """What it is joined to."""

    function: ConductorFunction
    """What its conductors do as connected. To see it: trace them to a breaker or a bar."""

    breakers: tuple[Breaker, ...]
    """Breakers that reach it. To see it: trace it to its breaker."""

    holds: float
    """Conductors it is made for."""

    connection: TerminalConnection
    """What its connection shows it to be: ungrounded, switched, grounded, live through a load .... To see it: trace it
    to a breaker or a bar.
    """

    poles_beyond: tuple[str, ...]
    """Breaker poles whose loads have no way back but through this neutral terminal. To see it: trace the loads beyond
    it.
    """

    legs: tuple[BreakerLegs, ...]
    """Legs of the supply that reach it. To see it: measure between this terminal and a breaker whose leg is known."""

    ahead: tuple[Conductor, ...]
    """The conductor by which it is reached from the panel."""

    device: Device
    """Its device."""

    conductors: tuple[Conductor, ...]
    """Conductors under it."""


class Net(View):
    """Conductors, terminals and metal solidly joined; it ends at switches, loads, breakers and the bars of a panel."""

    function: ConductorFunction
    """What it does as connected. To see it: trace it to a breaker or a bar."""

    conductors: tuple[Conductor, ...]
    """Its conductors."""

    terminals: tuple[Terminal, ...]
    """Device terminals on it."""

    boxes: tuple[Box, ...]
    """Metal boxes bonded to it."""

    joints: tuple[Joint, ...]
    """Its joints."""

    breakers: tuple[Breaker, ...]
    """Breakers solidly joined to it. To see it: trace it to its breaker."""

    fed_by: tuple[Breaker, ...]
    """Breakers that reach it, directly or through switches. To see it: trace it to its breaker."""

    grounding_conductors: tuple[Conductor, ...]
    """Conductors on it of bare or green colour."""

    on_neutral_bar: bool
    """Lands on a neutral bar. To see it: trace it to the panel."""

    on_ground_bar: bool
    """Lands on a ground bar. To see it: trace it to the panel."""

    fully_traced: bool
    """No end on it is untraced. To see it: trace the open ends."""

    leads_to_ground: bool
    """Lands on a ground bar, or as grounds alone on a neutral bar. To see it: trace its open ends to a bar."""

    breakers_meet: bool
    """Two or more breakers reach it, and it is where they meet."""

    meet_by_test: bool
    """Switching and testing shows breakers that the trace does not bring together."""

    unknown_feed: bool
    """Readings show it live with every breaker off that can feed it as recorded."""

    return_of: tuple[Breaker, ...]
    """Breakers whose loads return on it. To see it: trace the loads whose neutral lands here."""

    neutral_through_switch: bool
    """Reached from a neutral bar only through a switch."""

    reaches_neutral_bar: bool
    """Reached from a neutral bar, directly or through a switch. To see it: trace the open ends."""

    panels: tuple[Panel, ...]
    """Panels on whose bars it lands."""

    bars: tuple[NetBars, ...]
    """Bars it lands on."""

    metal_parts: tuple[str, ...]
    """Metal that becomes live with it."""

    untraced: bool
    """Nothing recorded feeds or grounds it, and something not recorded can."""

    live_through: tuple[Device, ...]
    """Loads through which alone it is live, when it has no way to a breaker or a bar."""

    home_runs: tuple[Conductor, ...]
    """Conductors of it that land on a neutral bar."""

    neutral_panels: tuple[Panel, ...]
    """Panels on whose neutral bar it lands."""

    return_poles: tuple[str, ...]
    """Breaker poles whose loads return on it. To see it: trace the loads whose neutral lands here."""


class Circuit(View):
    """All that one breaker, or a tied pair, feeds."""

    breakers: tuple[Breaker, ...]
    """Its breaker or tied breakers."""

    conductors: tuple[Conductor, ...]
    """Its ungrounded conductors."""

    cables: tuple[Cable, ...]
    """Cables that carry it."""

    boxes: tuple[Box, ...]
    """Boxes it enters."""

    devices: tuple[Device, ...]
    """Devices on it."""

    nets: tuple[Net, ...]
    """Its nets."""

    thinnest: tuple[Conductor, ...]
    """Its smallest ungrounded conductor as recorded, when every size is known. To see it: gauge the conductors whose
    size is not known.
    """


class Claim(View):
    """A log entry that calls something dead."""

    at: str
    """When."""

    conductors: tuple[Conductor, ...]
    """What was called dead."""

    missing: tuple[str, ...]
    """Steps of proof that are not recorded."""

    live_after: tuple[Reading, ...]
    """Later readings that show it live, with nothing switched in between."""


class Reading(View):
    """One meter reading."""

    kind: ReadingKind
    """What was measured."""

    volts: float
    """Voltage read, in volts. To see it: measure the voltage."""

    ohms: float
    """Resistance read, in ohms. To see it: measure the resistance."""

    amps: float
    """Current read, in amperes. To see it: measure the current."""

    signal: ReadingSignal
    """Silent, signal, open, closed or OL."""

    known_source: bool
    """Taken to prove the instrument."""

    contact: bool
    """Instrument touches the conductor. To see it: note the instrument."""

    nets: tuple[Net, ...]
    """What its points are on, in order, where they are conductors or terminals."""

    live_to_neutral: bool
    """Taken between a conductor that is certainly live by connection and a neutral."""

    live_metal: tuple[str, ...]
    """Metal that a reading to earth or to a bar was taken from: a box, a grounding terminal or conductor, an
    enclosure.
    """

    against: tuple[str, ...]
    """The smallest set of statements, this reading among them, that cannot all be true; absent where there is none."""

    off_then: tuple[Breaker, ...]
    """Breakers that feed its live point, when the log had all of them switched off as it was taken."""


class Label(View):
    """A label found or put on."""

    says: str
    """Its words."""

    on_kind: LabelOnKind
    """The kind of thing it is on: cable, conductor, device, box, joint, breaker, panel or other."""

    names_breakers: tuple[Breaker, ...]
    """The breakers it names."""

    fed_by: tuple[Breaker, ...]
    """Breakers that feed what it is on. To see it: trace it to its breaker."""

    names_dead: bool
    """Says that something is dead, disconnected or abandoned."""

    names_off: bool
    """Says that something is off."""

    live_readings: tuple[Reading, ...]
    """Readings not older than the label that show what it is on live."""


class Entry(View):
    """A log entry."""

    at: str
    """When."""

    did: EntryDid
    """What was done."""

    to: str
    """New state."""

    out_of_order: bool
    """Its time is before that of an entry above it."""

    missing: tuple[str, ...]
    """Of work on conductors, cutting and capping, the steps of proof that the log does not show before it."""

    conductors: tuple[Conductor, ...]
    """Conductors it speaks of."""


class Contradiction(View):
    """Entries of the record that cannot all be true, about one net."""

    kind: ContradictionKind
    """What it is about: live while off, dead while on, or live and dead."""

    statements: tuple[str, ...]
    """The smallest set of statements found that cannot all be true."""

    readings: tuple[Reading, ...]
    """The readings among them."""

    conductors: tuple[Conductor, ...]
    """Conductors of the net."""

    breakers: tuple[Breaker, ...]
    """Breakers that reach the net as traced."""


class Photo(View):
    """A photograph listed in the record."""

    file: str
    """Its file name."""

    present: bool
    """The file is beside the record. To see it: put the file back beside the record."""

    fingerprint: str
    """SHA-256 noted when it was taken in. To see it: note the fingerprint of the file."""

    fingerprint_now: str
    """SHA-256 of the file as it is now."""

    readable: bool
    """The picture in it can be read to its end. To see it: open the file in a viewer and save it as JPEG."""

    trouble: str
    """Why the picture cannot be read."""

    form: PhotoForm
    """Form of the picture by its content: JPEG, PNG, WebP, TIFF or GIF."""

    named_form: PhotoForm
    """The form that the ending of its name promises."""

    width: float
    """Width as shown, in pixels."""

    height: float
    """Height as shown, in pixels."""

    turned: PhotoTurned
    """How the stored picture is turned to be shown: upright, half turn and the like."""

    taken: str
    """When it was taken by the clock of the camera, with its offset from UTC where given. To see it: write into the
    record when it was taken.
    """

    visit_days: tuple[str, ...]
    """The day of its visit, or of every visit where it names none."""

    has_location: bool
    """The file says where it was taken, in EXIF, XMP or IPTC. To see it: look at the properties of the file."""


class Instrument(View):
    """A measuring instrument."""

    type: InstrumentType
    """What it is."""

    rating: str
    """Measurement category and voltage. To see it: read the marking at its sockets."""

    last_check: str
    """Date of its last calibration or check. To see it: read its label."""

    used_on_v: float
    """Highest voltage read with it, in volts."""

    used_at_panel: tuple[str, ...]
    """Readings of voltage or current taken with it at a breaker, bar or lug of a panel."""

    last_used: str
    """Day of its latest reading. To see it: note the day of each reading."""


class Probe(View):
    """What the readings of one place and one moment can mean."""

    fits: str
    """A condition under which every reading comes out as it did, by the names of data/faults.yaml; one that a record
    showing the wiring in full speaks against is left out. To see it: take the reading that tells them apart best.
    """

    at: str
    """The place that was read."""

    readings: tuple[Reading, ...]
    """The readings."""

    open_conditions: tuple[str, ...]
    """Conditions that fit, the worst first, less those that a record which shows the wiring in full speaks against."""

    recorded_as: str
    """What the record as written is called where it explains the readings, else none."""

    fits_record: bool
    """The record as written explains every reading."""

    explained: bool
    """Something that is listed explains every reading."""

    faults: tuple[str, ...]
    """Conditions left that are faults."""

    lethal: tuple[str, ...]
    """Conditions left under which what looks dead or grounded can kill."""

    worst: ProbeWorst
    """Severity of the worst condition left."""

    live_metal: tuple[str, ...]
    """Metal that is live under the record as written or the worst condition left, with volts to earth."""

    phantom: bool
    """One of the readings may be a coupled (phantom) voltage."""

    comparison: str
    """The reading that settles whether a voltage is coupled."""

    next_step: str
    """The reading or look that tells the conditions left apart best."""
