"""What one part of a lamp demands of another: names that exist, limits that can be held."""

import math
from typing import TYPE_CHECKING

from derate.lamp.channel import Channel
from derate.lamp.controller import Predictive
from derate.lamp.cooling import check_cooling
from derate.lamp.course import COURSE_KEYS
from derate.lamp.cutout import check_cutouts
from derate.lamp.emitter import Emitter
from derate.lamp.layout import check_layout
from derate.lamp.limit import limited_places
from derate.lamp.made_of import check_materials
from derate.lamp.network import Link
from derate.lamp.profile import Profile
from derate.lamp.sentence import Key, Noted, demand_known, wrong
from derate.lamp.variation import variations

if TYPE_CHECKING:
    from derate.lamp.lamp import Lamp

_MOST_PERIODS = 5_000_000  # rows of a run; each takes some 300 bytes of memory


def check_lamp(lamp: "Lamp") -> None:
    """Raises the disagreements between the parts of a lamp; those of names before all others."""
    for step in (
        (_names, check_materials, _channels, _driver, _links),
        (check_layout, check_cooling, _sensors),
        (_paths_to_ambient,),
        (_profiles,),
        (_watched, _shared, _limits, check_cutouts, variations),
    ):
        noted = Noted()
        for check in step:
            with noted.one():
                check(lamp)
        noted.demand_none()


def _profiles(lamp: "Lamp") -> None:
    noted = Noted()
    for name, profile in lamp.profiles.items():
        with noted.one():
            check_profile(lamp, profile, key=("profiles", name))
    noted.demand_none()


def check_profile(lamp: "Lamp", profile: Profile, *, key: Key = ()) -> None:
    """Raises the disagreements between a lamp and one profile."""
    noted = Noted()
    with noted.one():
        _ambients(lamp, profile, key)
    for channel in profile.request:
        where = (*key, "request", channel)
        with noted.one():
            demand_known(channel, lamp.channels, "a channel", where, f'"{channel}"')
    for index, event in enumerate(profile.events):
        for what, name, names in (
            ("sensor", event.sensor, lamp.sensors),
            ("channel", event.channel, lamp.channels),
            ("link", event.link, _joints(lamp)),
        ):
            if name is not None:
                with noted.one():
                    demand_known(name, names, f"a named {what}", (*key, "events", index, what))
    for check in (_duration, _still_air, _sensor_ranges):
        with noted.one():
            check(lamp, profile, key)
    noted.demand_none()


def _duration(lamp: "Lamp", profile: Profile, key: Key) -> None:
    if profile.duration_s < lamp.timing.control_period_s:
        due = f"at least one control period, {lamp.timing.control_period_s:g} s"
        raise wrong(due, key=(*key, "duration"))
    timing = lamp.timing
    period_s = min(timing.control_period_s, timing.adc_period_s, timing.update_period_s or math.inf)
    if profile.duration_s > _MOST_PERIODS * period_s:
        due = (
            f"at most {_MOST_PERIODS * period_s:g} s, {_MOST_PERIODS} times the shortest period of"
            f" timing, {period_s:g} s"
        )
        raise wrong(due, key=(*key, "duration"))


def _still_air(lamp: "Lamp", profile: Profile, key: Key) -> None:
    lonely = _without_path(lamp, airflow=False) if profile.least_airflow == 0 else None
    if lonely:
        due = f'some airflow, because without it no heat leaves node "{lonely}"'
        raise wrong(due, found="an airflow that reaches 0", key=(*key, "airflow"))


def _joints(lamp: "Lamp") -> list[str]:
    """What an event may degrade: the named links and the interface of the board."""
    joints = [link.name for link in lamp.links if link.name]
    interface = lamp.board.interface if lamp.board else None
    return [*joints, *([interface.name] if interface else [])]


def _names(lamp: "Lamp") -> None:
    for index, ambient in enumerate(lamp.ambients):
        if ambient in lamp.nodes:
            raise wrong("a name that no node has", key=("ambients", index))
        if ambient in lamp.ambients[:index]:
            raise wrong("a name that no other ambient has", key=("ambients", index))
        if ambient in COURSE_KEYS:
            raise wrong("a name that is no key of a course", key=("ambients", index))
    if lamp.board is None and not lamp.nodes:
        raise wrong(
            "at least one table [nodes.NAME], or a table [board]", found="nothing", key=("nodes",)
        )
    if lamp.board is not None:
        due = "another name, as the table [board] makes a node of this one"
        if "board" in lamp.nodes:
            raise wrong(due, found='the name "board"', key=("nodes", "board"))
        if "board" in lamp.ambients:
            raise wrong(due, key=("ambients", lamp.ambients.index("board")))
    named: set[str] = set()
    for index, link in enumerate(lamp.links):
        if link.name in named:
            raise wrong("a name that no other link has", key=("links", index, "name"))
        named |= {link.name} if link.name else set()
    interface = lamp.board.interface if lamp.board else None
    if interface is not None and interface.name in named:
        raise wrong("a name that no link has", key=("board", "interface", "name"))


def _channels(lamp: "Lamp") -> None:
    noted = Noted()
    for name, channel in lamp.channels.items():
        key: Key = ("channels", name)
        for index, node in enumerate(channel.solder_points):
            entry: Key = () if isinstance(channel.solder_point, str) else (index,)
            with noted.one():
                demand_known(node, lamp.nodes, "a node", (*key, "solder_point", *entry))
        with noted.one():
            demand_known(channel.emitter, lamp.emitters, "an emitter", (*key, "emitter"))
            _driven(channel, lamp.emitters[channel.emitter], key)
    noted.demand_none()


def _driven(channel: Channel, emitter: Emitter, key: Key) -> None:
    """What a channel asks of its emitter."""
    branch_a, most_a = channel.current_a / channel.parallel, emitter.current_a[-1]
    if branch_a > most_a * (1 + 1e-9):
        due = f'at most {most_a:g} A a branch, where emitter "{channel.emitter}" ends'
        raise wrong(due, found=f"{branch_a:g} A a branch", key=(*key, "current"))
    if min(channel.offsets_v) <= -emitter.forward_voltage_v[0]:
        due = "an offset that leaves the forward voltage above zero"
        raise wrong(due, key=(*key, "forward_voltage_offset"))


def _driver(lamp: "Lamp") -> None:
    bypass = lamp.driver.bypass
    heated: dict[Key, str | None] = {
        ("driver", "heat_node"): lamp.driver.heat_node,
        ("driver", "bypass", "node"): bypass.node if bypass else None,
    }
    for key, node in heated.items():
        if node is not None:
            demand_known(node, lamp.named_nodes, "a node", key)
    first, *others = lamp.channels.items()
    for name, channel in others if bypass else ():
        if not math.isclose(channel.current_a, first[1].current_a, rel_tol=1e-9):
            due = (
                f'the {first[1].current_a:g} A of channel "{first[0]}", as one string carries all'
                " channels (driver.bypass)"
            )
            raise wrong(due, key=("channels", name, "current"))


def _links(lamp: "Lamp") -> None:
    noted = Noted()
    for index, link in enumerate(lamp.links):
        with noted.one():
            _ends(lamp, link, ("links", index, "between"))
    noted.demand_none()


def _ends(lamp: "Lamp", link: Link, key: Key) -> None:
    for end, place in enumerate(link.between):
        places = [*lamp.named_nodes, *lamp.ambients]
        demand_known(place, places, "a node or an ambient", (*key, end))
    if set(link.between) <= set(lamp.ambients):
        raise wrong("at least one node", key=key)
    if link.ladder is not None and link.between[0] in lamp.ambients:
        raise wrong("first the node from which the ladder is seen", key=key)


def _without_path(lamp: "Lamp", *, airflow: bool) -> str | None:
    """A node whose heat cannot reach any ambient, None when all can."""
    links = [set(link.between) for link in lamp.links if airflow or not link.airflow]
    links += [{part.of, lamp.outside(part.to)} for part in lamp.surfaces.values()]
    if lamp.board is not None:
        links += [{"board", lamp.outside(face.ambient)} for face in lamp.board.faces.values()]
        links += [{"board", lamp.board.interface.to}] if lamp.board.interface else []
    reached, grew = set(lamp.ambients), True
    while grew:
        size = len(reached)
        for ends in links:
            reached |= ends if ends & reached else set()
        grew = len(reached) > size
    return next((node for node in lamp.named_nodes if node not in reached), None)


def _paths_to_ambient(lamp: "Lamp") -> None:
    lonely = _without_path(lamp, airflow=True)
    if lonely == "board" and lamp.board is not None:
        due = "an interface, a front, a back or links that lead to an ambient"
        raise wrong(due, found="no way out", key=("board",))
    if lonely:
        due = "links or surfaces that lead to an ambient"
        raise wrong(due, found="no way out", key=("nodes", lonely))


def _sensors(lamp: "Lamp") -> None:
    noted = Noted()
    for name, sensor in lamp.sensors.items():
        if isinstance(sensor.at, str):
            with noted.one():
                demand_known(sensor.at, lamp.named_nodes, "a node", ("sensors", name, "at"))
        low_c, high_c = sensor.thermistor.range_c
        policy: Key = ("controller", "policy")
        thresholds: dict[Key, float] = {("controller", "cutoff"): lamp.controller.cutoff_c}
        for dotted, at_c in lamp.controller.policy.thresholds_c.items():
            steps = (int(step) if step.isdigit() else step for step in dotted.split("."))
            thresholds[(*policy, *steps)] = at_c
        for key, at_c in thresholds.items():
            if not low_c < at_c < high_c:
                due = f'a temperature that sensor "{name}" can read, {low_c:g} to {high_c:g} degC'
                with noted.one():
                    raise wrong(due, key=key)
    noted.demand_none()
    if lamp.controller.disagreement_k is not None and len(lamp.sensors) < 2:
        due = "two sensors to compare, or no such key"
        raise wrong(due, found="one sensor", key=("controller", "disagreement"))


def _ambients(lamp: "Lamp", profile: Profile, key: Key) -> None:
    if not isinstance(profile.ambient, dict):
        return
    for name in profile.ambient:
        demand_known(name, lamp.ambients, "an ambient", (*key, "ambient", name), f'"{name}"')
    for name in lamp.ambients:
        if name not in profile.ambient:
            due = f'a temperature of ambient "{name}" such as "25 degC"'
            raise wrong(due, found="nothing", key=(*key, "ambient", name))


def _sensor_ranges(lamp: "Lamp", profile: Profile, key: Key) -> None:
    for name, sensor in lamp.sensors.items():
        low_c, high_c = sensor.thermistor.range_c
        for at_c in profile.ambients_c:
            if not low_c <= at_c <= high_c:
                due = f'temperatures that sensor "{name}" can read, {low_c:g} to {high_c:g} degC'
                raise wrong(due, found=f"{at_c:g} degC", key=(*key, "ambient"))


def _watched(lamp: "Lamp") -> None:
    """What a policy watches must have a limit, and the air that it counts on must take heat."""
    policy = lamp.controller.policy
    if isinstance(policy, Predictive):
        places = [place.name for place in limited_places(lamp)]
        for index, name in enumerate(policy.watch or ()):
            key: Key = ("controller", "policy", "watch", index)
            if not places:
                raise wrong("nothing to watch, as only junctions have a limit", key=key)
            demand_known(name, places, "a place with a limit", key)
        still = policy.airflow is not None and min(policy.airflow) == 0
        lonely = _without_path(lamp, airflow=False) if still else None
        if lonely:
            due = f'some airflow, because without it no heat leaves node "{lonely}"'
            raise wrong(due, found="0", key=("controller", "policy", "airflow"))


def _shared(lamp: "Lamp") -> None:
    """What a way to share the limit needs to be told of the channels."""
    sharing, key = lamp.controller.sharing, ("controller", "sharing")
    for name in sharing.request:
        where: Key = (*key, "request", name)
        demand_known(name, lamp.channels, "a channel", where, f'"{name}"')
    lit = [name for name in lamp.channels if sharing.request.get(name, 1.0) > 0.0]
    if not lit:
        raise wrong("light from at least one channel", found="none", key=(*key, "request"))
    where, found = (*key, "way"), f'"{sharing.way}"'
    match sharing.way:
        case "least important first":
            for name in lit:
                if lamp.channels[name].priority is None:
                    raise wrong(f"a priority of channel {name} with it", found=found, key=where)
            if len({lamp.channels[name].priority for name in lit}) < 2:
                raise wrong("channels of different priority with it", found=found, key=where)
        case "hold colour":
            for name in lit:
                emitter = lamp.channels[name].emitter
                if not lamp.emitters[emitter].has_colour:
                    due = f"a spectrum or chromaticity of emitter {emitter} with it"
                    raise wrong(due, found=found, key=where)


def _limits(lamp: "Lamp") -> None:
    """A limit below the ambient of every profile can never be held."""
    coldest_c = min((min(profile.ambients_c) for profile in lamp.profiles.values()), default=None)
    if coldest_c is None:
        return
    limits: dict[Key, float] = {
        ("channels", name, "junction_limit"): channel.junction_limit_c
        for name, channel in lamp.channels.items()
    }
    limits |= {place.key: place.limit_c for place in limited_places(lamp)}
    noted = Noted()
    for key, limit_c in limits.items():
        if limit_c <= coldest_c:
            due = f"more than the lowest ambient of any profile, {coldest_c:g} degC"
            with noted.one():
                raise wrong(due, key=key)
    noted.demand_none()
