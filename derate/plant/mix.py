"""The light of several channels together: what is asked for, and what is there when warm."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from derate.lamp.channel import Channel
from derate.lamp.emitter import Emitter
from derate.lamp.lamp import Lamp
from derate.plant.curve import value
from derate.plant.emitter import LUMINOUS, LUMINOUS_RATIO, VOLTAGE, curves_of
from derate.plant.sharing import share
from derate.plant.tristimulus import xyz_per_lumen

Array = NDArray[np.float64]


def coloured(lamp: Lamp, names: list[str]) -> bool:
    """Whether the colour of all these channels is known, and there are any."""
    return bool(names) and all(emitter_of(lamp, name).has_colour for name in names)


def emitter_of(lamp: Lamp, name: str) -> Emitter:
    """The emitter of a channel."""
    return lamp.emitters[lamp.channels[name].emitter]


def asked_xyz(lamp: Lamp, requests: Mapping[str, Array]) -> Array:
    """X, Y, Z (..., 3) [lm] of what is asked for: ``requests`` 0..1 (...) of each channel.

    It is the light that each channel would give at the reference junction temperature of its
    emitter. Channels whose colour is not known may not be asked for: ValueError.
    """
    xyz = np.zeros((*np.shape(next(iter(requests.values()))), 3))
    for name, asked in requests.items():
        if np.any(asked > 0.0):
            emitter = emitter_of(lamp, name)
            lm = reference_lm(lamp, name, np.asarray(asked, dtype=float))
            xyz += lm[..., None] * xyz_per_lumen(emitter, emitter.reference_junction_c)
    return xyz


def reference_lm(lamp: Lamp, name: str, request: Array) -> Array:
    """Luminous flux (...) [lm] of a channel at its reference junction temperature."""
    channel, emitter = lamp.channels[name], emitter_of(lamp, name)
    if lamp.driver.dimming == "pwm":
        return request * _full_lm(channel, emitter, channel.current_a)
    levels, where = np.unique(request, return_inverse=True)
    lm = [_full_lm(channel, emitter, one * channel.current_a) for one in levels]
    return np.array(lm)[where].reshape(request.shape)


def _full_lm(channel: Channel, emitter: Emitter, current_a: float) -> float:
    """Luminous flux [lm] of a channel at a current [A], shared among its branches."""
    if current_a <= 0.0:
        return 0.0
    curves = curves_of(emitter)
    branch_a = np.empty(channel.parallel)
    ones, offsets_v = np.ones(channel.parallel), np.array(channel.offsets_v)
    share(curves[VOLTAGE], current_a, ones, offsets_v, branch_a, np.nan)
    each_lm = [value(curves[LUMINOUS], each_a) for each_a in branch_a]
    ratio = value(curves[LUMINOUS_RATIO], emitter.reference_junction_c)
    return channel.series * float(sum(each_lm)) * max(float(ratio), 0.0)


def mixed_xyz(lamp: Lamp, light_lm: Mapping[str, Array], junction_c: Mapping[str, Array]) -> Array:
    """X, Y, Z (..., 3) [lm] of channels that give ``light_lm`` (...) [lm] at ``junction_c`` [degC].

    Channels that are dark need no colour.
    """
    xyz = np.zeros((*np.shape(next(iter(light_lm.values()))), 3))
    for name, lm in light_lm.items():
        if np.any(np.asarray(lm) > 0.0):
            seen = xyz_per_lumen(emitter_of(lamp, name), junction_c[name])
            xyz += np.asarray(lm)[..., None] * seen
    return xyz
