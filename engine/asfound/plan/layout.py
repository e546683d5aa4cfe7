"""Where things are, for somebody who has to walk there: the place of every item, and what was looked into."""

from __future__ import annotations

from collections.abc import Iterable

from asfound.plan.acts import unknown
from asfound.record.facts import Item
from asfound.trace import Installation
from asfound.trace.nets import in_order

PANEL, BOX, OPEN, DEVICE = "panel", "box", "open place", "device"


class Layout:
    """The places of one installation: panels, boxes, open places, and devices with a wiring compartment of their own.

    `ends` holds the ends of conductors at each place, `bare` the cables without
    recorded conductors with the side by which they come in.
    """

    def __init__(self, installation: Installation) -> None:
        items = installation.items
        self.installation = installation
        self.places: list[Item] = [
            *items.get("panel", ()), *items.get("box", ()),
            *(device for device in items.get("device", ()) if not device.data["box"]),
        ]  # fmt: skip
        self.ends: dict[Item, list[Item]] = {place: [] for place in self.places}
        self.bare: dict[Item, list[tuple[Item, str]]] = {place: [] for place in self.places}
        self.lost: list[tuple[Item, str]] = []  # cables with the side that is not traced to a place
        self.joint_at: dict[str, Item] = {}  # by the tag of the joint
        for cable in items.get("cable", ()):
            for side, place in cable.data["sides"].items():
                if place is None:
                    self.lost.append((cable, side))
                elif not cable.data["conductors"]:
                    self.bare[place].append((cable, side))
        for end in items.get("end", ()):
            place = end.data["at"]
            if place is not None:
                self.ends[place].append(end)
                state = end.data["state"]
                if state.written.startswith("joint "):
                    self.joint_at[state.written.removeprefix("joint ")] = place
        self.devices: dict[Item, list[Item]] = {place: [] for place in self.places}
        for device in items.get("device", ()):
            self.devices[device.data["box"][0] if device.data["box"] else device].append(device)
        self.landed = {panel for _, panel, _ in installation.record.landings}
        self._into: dict[Item, bool] = {}
        self.closed = [place for place in self.places if not self.looked_into(place)]

    def sort(self, place: Item) -> str:
        """`panel`, `box`, `open place` or `device`."""
        if place.kind == "box":
            kind = place.data.get("kind")
            return OPEN if kind is not None and kind.values == ("no box",) else BOX
        return str(place.kind)

    def looked_into(self, place: Item) -> bool:
        """Whether the record tells anything of what is inside: a joint, a terminal, a landing, the state of an end."""
        held = self._into.get(place)
        if held is None:
            held = self._into[place] = (
                (place.kind == "panel" and place.tag in self.landed)
                or (place.kind == "box" and bool(place.data["joints"]))
                or any(device.data["terminals"] for device in self.devices[place])
                or any(end.data["state"].values for end in self.ends[place])
            )
        return held

    def unseen_ends(self, place: Item) -> list[Item]:
        """Ends that are here and of which nobody knows what they are on."""
        return [end for end in self.ends[place] if not end.data["state"].values]

    def goes(self, cable: Item, side: str) -> bool:
        """Whether somebody wrote down where an end goes that is not traced to a place."""
        written = self.installation.record.document.root["cables"][cable.tag]
        end = written.get(side) if isinstance(written, dict) else None
        return isinstance(end, dict) and "not_seen" in end

    def cores(self, cable: Item) -> int:
        """Conductors of a cable; a usual number where they are not recorded."""
        return len(cable.data["conductors"]) or unknown("conductors")

    def of(self, item: Item) -> list[Item]:
        """The places of an item, in order of tags; none for what is nowhere, such as a photograph."""
        kind, data = item.kind, item.data
        if kind in ("panel", "box"):
            return [item]
        if kind == "device":
            return [data["box"][0] if data["box"] else item]
        if kind == "terminal":
            return self.of(data["device"])
        if kind == "breaker":
            return [data["panel"]]
        if kind == "joint":
            found = data["box"][0] if data["box"] else self.joint_at.get(item.tag)
            return [found] if found is not None else []
        if kind == "end":
            return [data["at"]] if data["at"] is not None else []
        if kind == "conductor":
            return self.of(data["cable"])
        if kind == "cable":
            return sorted({place for place in data["sides"].values() if place is not None}, key=in_order)
        if kind == "net":
            return sorted({place for one in data["conductors"] for place in self.of(one)}, key=in_order)
        if kind == "label":
            thing = self.thing(data["on"])
            return self.of(thing) if thing is not None else []
        if kind == "reading":
            things = [held[0] if isinstance(held, tuple) else held for _, held in filter(None, data["points"])]
            return list(dict.fromkeys(place for thing in things if thing is not None for place in self.of(thing)))
        if kind == "probe":
            return list(dict.fromkeys(place for reading in data["readings"] for place in self.of(reading)))
        return []

    def thing(self, tag: str) -> Item | None:
        """What a label is on."""
        record = self.installation.record
        for held in (record.cables, record.boxes, record.devices, record.joints, record.panels):
            if tag in held:
                return held[tag]
        for kind in ("conductor", "breaker"):
            try:
                return self.installation.item(kind, tag)
            except KeyError:
                continue
        return None

    def nets(self, item: Item) -> Iterable[Item]:
        """The nets that an item is on."""
        kind, data = item.kind, item.data
        if kind == "net":
            return [item]
        if kind in ("conductor", "terminal"):
            return [data["net"]]
        if kind == "device":
            return list(dict.fromkeys(terminal.data["net"] for terminal in data["terminals"]))
        if kind == "box":
            return data["nets"]
        if kind in ("joint", "cable"):
            return list(dict.fromkeys(one.data["net"] for one in data["conductors"]))
        if kind == "breaker":
            return [net for circuit in data["circuits"] for net in circuit.data["nets"]]
        if kind == "label":
            thing = self.thing(data["on"])
            return self.nets(thing) if thing is not None and thing.kind != "panel" else []
        return []
