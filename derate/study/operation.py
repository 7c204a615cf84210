"""The lamp at rest: its channels, sensors, nodes and where its power goes."""

from dataclasses import dataclass


@dataclass(frozen=True)
class ChannelPoint:
    """One channel at rest; nan for what has no value in a runaway.

    Powers, light and current are those of all its emitters, mean over a PWM period; ``current_a``
    [A] counts all parallel branches. ``voltage_v`` [V]: across the string while it is on.
    ``junction``, ``solder``: nodes of its hottest junction and of that emitter's solder point.
    ``ripple_k`` [K]: crest of the PWM ripple above the mean, counted in ``margin_k``.
    ``junction_to_solder_k_per_w``: per watt of heat of one emitter (real), and per watt of
    electrical power at this point (electrical).
    """

    name: str
    emitters: int
    duty: float
    current_a: float
    voltage_v: float
    electrical_w: float
    heat_w: float
    radiant_w: float
    light_lm: float
    efficacy_lm_per_w: float
    junction: str
    junction_c: float
    ripple_k: float
    solder: str
    solder_c: float
    limit_c: float
    margin_k: float
    junction_to_solder_k_per_w: float
    junction_to_solder_electrical_k_per_w: float


@dataclass(frozen=True)
class SensorPoint:
    """One sensor at rest: the temperature of the thermistor, of its place, what is read of it.

    ``reading_c`` [degC] is nan where the code lies in a fault window (``fault`` then says which
    one, "open" or "short"); ``low_k``, ``high_k`` [K]: least and most error of a reading at worst,
    nan outside the working range. In a runaway the code is 0.
    """

    name: str
    at: str
    place_c: float
    thermistor_c: float
    reading_c: float
    code: int
    fault: str
    low_k: float
    high_k: float


@dataclass(frozen=True)
class NodePoint:
    """One node of the lamp at rest; ``limit_c`` [degC] and ``margin_k`` [K] are None without one.

    Nodes of a board ("board", "solder.*", "place.*") are among them, junctions are not.
    """

    name: str
    about: str
    temperature_c: float
    limit_c: float | None
    margin_k: float | None


@dataclass(frozen=True)
class Power:
    """Where the power goes [W]: what is put in equals what leaves, but for ``residual_w``.

    In: ``supply_w`` drawn by the driver and ``sensors_w`` by the dividers through the thermistors.
    Out: ``radiant_w`` as light, ``ambient_w`` into each ambient, ``elsewhere_w``: the driver's loss
    where the lamp file does not say which node it heats, that of bypass switches likewise.
    ``driver_loss_w`` and ``bypass_w`` are parts of what the supply gives, ``heat_w`` the heat of
    all junctions.
    """

    supply_w: float
    sensors_w: float
    driver_loss_w: float
    bypass_w: float
    heat_w: float
    radiant_w: float
    ambient_w: dict[str, float]
    elsewhere_w: float
    residual_w: float
    light_lm: float
    efficacy_lm_per_w: float


@dataclass(frozen=True)
class Limit:
    """The limit that acts first: the node nearest to its limit.

    ``channel``: whose junction it is, empty for another node; ``margin_k`` [K] is negative beyond
    the limit and counts the ripple.
    """

    node: str
    channel: str
    temperature_c: float
    limit_c: float
    margin_k: float


@dataclass(frozen=True)
class Stability:
    """Whether there is a rest, and how far heat feeds itself.

    ``runaway``: heat grows faster than the lamp sheds it; ``too_hot``: it does not, but what it
    would come to lies above 1000 degC. ``loop_gain`` [-]: how much of a warming comes back as
    warming through the heat that it adds; from 1 on the temperature runs away. ``sentence`` says it
    in words, empty where there is nothing to say.
    """

    runaway: bool
    loop_gain: float
    sentence: str
    too_hot: bool = False

    @property
    def rests(self) -> bool:
        """Whether there is a rest that can be told of."""
        return not (self.runaway or self.too_hot)
