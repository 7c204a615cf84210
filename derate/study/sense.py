"""What a sensor of a lamp at rest reads, on the mean: its errors as the lamp file states them."""

import math

import numpy as np

from derate.lamp.lamp import Lamp
from derate.lamp.sensor import Sensor
from derate.sensing.adc import bent, coded, ideal
from derate.sensing.chain import Chain, current_at_sample
from derate.sensing.circuit import HEALTHY, celsius_at_lsb, sampled_ratio
from derate.sensing.lookup import wires_at
from derate.sensing.parts import transfer_of


class Sense:
    """The chain of one sensor without its noise, and the LED current at its samples.

    ``code`` is what the firmware gets, ``reading_c`` what it makes of it, and ``smooth_c`` the same
    without the steps of the converter, so that it moves with every hundredth of a degree.
    """

    def __init__(self, lamp: Lamp, sensor: str) -> None:
        self.name = sensor
        self.chain = Chain(lamp, sensor)
        self.sensor: Sensor = self.chain.sensor
        self.full_a = np.array([channel.current_a for channel in lamp.channels.values()])
        self.driver = lamp.driver
        circuit = self.chain.circuit
        self._circuit, self._transfer = circuit, transfer_of(circuit.transfer, circuit.parts)
        self._ideal = circuit._replace(transfer=ideal(circuit.transfer))

    def current_a(self, duties: np.ndarray) -> float:
        """LED current [A] at a sample, the mean over a period where samples fall anywhere."""
        sampling = self.sensor.disturbance.sampling
        if sampling == "free" and self.driver.bypass is None:
            return float(duties @ self.full_a)
        return current_at_sample(self.driver, self.full_a.tolist(), duties.tolist(), 0.0, sampling)

    @property
    def most_a(self) -> float:
        """LED current [A] with every channel at full drive."""
        return self.current_a(np.ones(len(self.full_a)))

    def lsb(self, thermistor_c: float, current_a: float) -> float:
        """Input of the converter [LSB], its errors and those of the unit's parts included."""
        ratio = sampled_ratio(self._circuit, thermistor_c, current_a, HEALTHY)
        return float(bent(self._transfer, ratio))

    def code(self, thermistor_c: float, current_a: float) -> int:
        """The code at ``thermistor_c`` [degC] under an LED current [A]."""
        return int(coded(self._transfer, self.lsb(thermistor_c, current_a)))

    def smooth_c(self, thermistor_c: float, current_a: float) -> float:
        """Reading [degC] without the converter's steps, nan inside a fault window."""
        lsb, window = self.lsb(thermistor_c, current_a), self.chain.lookup.window
        code = math.floor(lsb)
        if wires_at(window.low_code, window.high_code, window.open_is_high, code) != HEALTHY:
            return math.nan
        return float(celsius_at_lsb(self._ideal, lsb))

    def fault(self, code: int) -> str:
        """ "open" or "short" where ``code`` lies in a fault window, else nothing."""
        window = self.chain.lookup.window
        if not math.isnan(self.chain.reading_c(code)):
            return ""
        return "open" if (code >= window.high_code) == window.open_is_high else "short"
