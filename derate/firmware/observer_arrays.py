"""The observer of a "predictive" policy as the arrays that firmware_ref/predictive.h asks for."""

from typing import NamedTuple

from derate.control import predictive
from derate.control.observer import CENTI, INT16_MAX
from derate.firmware.quantise import Field, Quantiser
from derate.lamp import controller
from derate.lamp.lamp import Lamp


class PolicyArray(NamedTuple):
    """An array that the policy's settings point to: its field, the C type of an entry, the entries
    and what they say."""

    field: str
    kind: str
    values: tuple[int, ...]
    meaning: str


class ObserverSettings(NamedTuple):
    """All of struct derate_policy: arrays, lags as pairs of mantissa and shift, plain numbers."""

    arrays: tuple[PolicyArray, ...]
    lags: tuple[tuple[Field, Field], ...]
    fields: tuple[Field, ...]
    words: int


def observer_settings(lamp: Lamp, chosen: controller.Predictive) -> ObserverSettings:
    """The settings of a lamp; raises InputError for what 16 bits cannot hold."""
    to, found = Quantiser(lamp), predictive.settings_of(lamp, chosen)
    if found.band_centi_k > INT16_MAX:
        raise to.refuse("policy.band", f"{chosen.band_k:g} K", f"at most {INT16_MAX / CENTI:g} K")
    channels, lags = len(lamp.channels), len(found.lags)
    if max(map(abs, found.end_centi_c)) > INT16_MAX:
        end_c = max(map(abs, found.end_centi_c)) / CENTI
        raise to.refuse("policy.guard", f"light that ends at {end_c:g} degC", "at most 327.67 degC")
    everyone = ", ".join(found.places)
    return ObserverSettings(
        (
            PolicyArray("end_centi_c", "int16_t", found.end_centi_c, f"of {everyone}"),
            PolicyArray(
                "now_centi_k",
                "uint16_t",
                tuple(rise for place in found.now for rise in place),
                f"by place, {channels} channels each",
            ),
            PolicyArray(
                "gain_centi_k",
                "int16_t",
                tuple(rise for place in found.gain for channel in place for rise in channel),
                f"by place and channel, {lags} lags each",
            ),
            PolicyArray("unsure_centi_k", "uint16_t", found.unsure, "by place"),
        ),
        tuple(
            (
                Field("mantissa", lag.mantissa, f"{lag.time_constant_s:.3g} s"),
                Field("shift", lag.shift, ""),
            )
            for lag in (*found.lags, found.doubt)
        ),
        (
            Field("places", len(found.end_centi_c), everyone),
            Field("channels", channels, ", ".join(lamp.channels)),
            Field("lags", lags, "low-passes of what each channel was driven"),
            to.centi_k("band_centi_k", chosen.band_k, "policy.band"),
            to.share("floor_q15", chosen.floor, "policy.floor"),
        ),
        channels * lags + 1,
    )
