"""Driver and timing: how light is dimmed, and when the firmware's tasks run."""

from typing import Annotated, Any, Literal, Self

from pydantic import model_validator

from derate.lamp.part import Name, Part, Price
from derate.lamp.quantities import (
    NOT_NEGATIVE,
    POSITIVE,
    Bits,
    Hertz,
    Joule,
    Ohm,
    Ratio,
    Second,
    bits,
    check,
)
from derate.lamp.sentence import wrong

_SHORTEST_S = 1e-6
_PERIOD = check(lambda time_s: time_s == 0 or time_s >= _SHORTEST_S, "a period of at least 1 us")


class Bypass(Part):
    """One series string with a switch across each channel, which is closed to dim it.

    ``resistance_ohm`` is that of a closed switch, ``switching_j`` the energy lost each time it has
    closed and opened again; ``node`` is heated by both.
    """

    resistance_ohm: Annotated[Ohm, NOT_NEGATIVE]
    switching_j: Annotated[
        Joule, check(lambda energy_j: 0 <= energy_j <= 1, 'an energy from 0 to "1 J"')
    ] = 0.0
    node: Name | None = None


class Driver(Part):
    """The power stage: dimmed by PWM or by current; its loss heats ``heat_node`` if named."""

    dimming: Literal["pwm", "current"] = "pwm"
    frequency_hz: Annotated[Hertz, POSITIVE] = 1000.0
    resolution_bits: Annotated[Bits, bits(1, 16)] = 12
    efficiency: Annotated[
        Ratio, check(lambda ratio: 0.1 <= ratio <= 1, "a ratio from 0.1 to 1")
    ] = 1.0
    heat_node: Name | None = None
    bypass: Bypass | None = None
    price: Price | None = None

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.bypass is not None and self.dimming != "pwm":
            raise wrong('"pwm", because bypass switches dim by being closed', key=("dimming",))
        return self


class Timing(Part):
    """Periods, phases and jitter of the control, ADC and update tasks.

    ``adc_period_s`` is the control period unless given; an update period of zero lets a new duty
    take effect at once.
    """

    control_period_s: Annotated[Second, POSITIVE, _PERIOD] = 0.1
    control_phase_s: Second = 0.0
    control_jitter_s: Second = 0.0
    adc_period_s: Annotated[Second, POSITIVE, _PERIOD] = 0.1
    adc_phase_s: Second = 0.0
    adc_jitter_s: Second = 0.0
    update_period_s: Annotated[Second, _PERIOD] = 0.0
    update_phase_s: Second = 0.0

    @model_validator(mode="before")
    @classmethod
    def _adc_with_control(cls, data: Any) -> Any:
        if not isinstance(data, dict) or {"adc_period", "adc_period_s"} & data.keys():
            return data
        period = data.get("control_period", data.get("control_period_s"))
        return data if period is None else data | {"adc_period": period}

    @model_validator(mode="after")
    def _agree(self) -> Self:
        for task in ("control", "adc", "update"):
            period_s = getattr(self, f"{task}_period_s")
            for what in ("phase", "jitter"):
                value_s = getattr(self, f"{task}_{what}_s", 0.0)
                if value_s > 0 and value_s >= period_s:
                    raise wrong(f"less than {task}_period, {period_s:g} s", key=(f"{task}_{what}",))
        return self
