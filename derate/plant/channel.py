"""A channel's emitters sorted into those that behave alike.

Branches of equal offset whose emitters sit on the same solder nodes carry the same current and
have the same temperatures, so they are one *kind* of branch; emitters of one kind on one solder
node are one *group* with one junction node. Both are exact: nothing is averaged. (That equal
parallel branches share equally is an assumption about the start; with a falling voltage and weak
thermal coupling the equal share can be unstable, and only unequal offsets show it.)
"""

from collections import Counter
from dataclasses import dataclass

from derate.lamp.lamp import Lamp


@dataclass(frozen=True)
class Branch:
    """Parallel branches that behave alike: ``count`` of them, in ``channel`` (index).

    ``offset_v``: forward voltage of each of its emitters above the table [V]; ``solder``: solder
    node -> emitters of one branch on it.
    """

    channel: int
    count: int
    offset_v: float
    solder: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Group:
    """Emitters that behave alike: ``in_series`` per branch, in ``branch`` (index), on ``node``."""

    channel: int
    branch: int
    node: str
    in_series: int
    count: int


def branches_of(lamp: Lamp) -> list[Branch]:
    """The kinds of branches of all channels, channel by channel."""
    branches = []
    for number, (name, channel) in enumerate(lamp.channels.items()):
        series, solder, offset_v = channel.series, lamp.solder_points(name), channel.offsets_v
        kinds = Counter(
            (offset_v[i], tuple(sorted(Counter(solder[i * series : (i + 1) * series]).items())))
            for i in range(channel.parallel)
        )
        branches += [Branch(number, many, *kind) for kind, many in kinds.items()]
    return branches


def groups_of(branches: list[Branch]) -> list[Group]:
    """The groups of all branches, branch by branch; one junction node each, in this order."""
    return [
        Group(branch.channel, number, node, in_series, in_series * branch.count)
        for number, branch in enumerate(branches)
        for node, in_series in branch.solder
    ]


def junction_names(lamp: Lamp, groups: list[Group]) -> list[str]:
    """Names of the junction nodes: ``junction.<channel>.<number within the channel>``."""
    channels, seen = list(lamp.channels), Counter[int]()
    names = []
    for group in groups:
        names.append(f"junction.{channels[group.channel]}.{seen[group.channel]}")
        seen[group.channel] += 1
    return names
