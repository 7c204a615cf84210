"""A second computation of the closed loop, sharing nothing with the plant but the lamp file.

Every emitter is its own node, currents are shared by a root search, heat follows the junction
continuously, and scipy's stiff integrator is restarted at each instant at which a task runs.
Only the controller is the program's own: it is the thing under test.
"""

import math
from bisect import bisect_right

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

KELVIN = 273.15


class Curve:
    """scipy's monotone cubic through points, evaluated for one number at a time without numpy."""

    def __init__(self, x, y):
        pchip = PchipInterpolator(x, y)
        self.x = pchip.x.tolist()
        self.cubics = pchip.c.T.tolist()
        self.first_slope = float(pchip(self.x[0], 1))

    def __call__(self, x):
        i = min(max(bisect_right(self.x, x) - 1, 0), len(self.cubics) - 1)
        a, b, c, d = self.cubics[i]
        u = x - self.x[i]
        return ((a * u + b) * u + c) * u + d


class Emitter:
    """Forward voltage and flux of one emitter, straight from the tables of the lamp file."""

    def __init__(self, e):
        self.e = e
        self.voltage = Curve(np.log(e.current_a), e.forward_voltage_v)
        self.radiant = Curve((0.0, *e.current_a), (0.0, *e.radiant_flux_w))
        self.luminous = Curve((0.0, *e.current_a), (0.0, *e.luminous_flux_lm))
        self.radiant_ratio = Curve(e.junction_c, e.radiant_ratio)
        self.luminous_ratio = Curve(e.junction_c, e.luminous_ratio)
        self.lowest = math.log(e.current_a[0])
        self.low_slope = self.voltage.first_slope

    def volts(self, current_a, junction_c):
        log_i = math.log(current_a)
        if log_i < self.lowest:
            at_reference = self.voltage(self.lowest) + self.low_slope * (log_i - self.lowest)
        else:
            at_reference = self.voltage(log_i)
        return at_reference + self.e.forward_voltage_slope_v_per_k * (
            junction_c - self.e.reference_junction_c
        )

    def radiant_w(self, current_a, junction_c):
        return self.radiant(current_a) * self.radiant_ratio(junction_c)

    def luminous_lm(self, current_a, junction_c):
        return self.luminous(current_a) * self.luminous_ratio(junction_c)

    def real_resistance(self):
        e = self.e
        r = e.junction_to_solder_resistance_k_per_w
        if e.resistance_convention == "real":
            return r
        i = e.resistance_current_a
        electrical = i * self.volts(i, e.reference_junction_c)
        return r * electrical / (electrical - self.radiant_w(i, e.reference_junction_c))


class Circuit:
    """Nodes, links and heat of a lamp, one junction node per emitter."""

    def __init__(self, lamp):
        self.lamp = lamp
        self.index = {}
        self.capacitance = []
        self.links = []  # (node, node or ambient name, resistance, airflow)
        for name, node in lamp.nodes.items():
            self._node(name, node.capacitance_j_per_k)
        for link in lamp.links:
            a, b = link.between
            if a not in self.index:
                a, b = b, a
            self.links.append((a, b, link.resistance_k_per_w, link.airflow))
        self.emitters = {name: Emitter(e) for name, e in lamp.emitters.items()}
        self.branches = {}
        for name, channel in lamp.channels.items():
            self.branches[name] = self._branches(name, channel)
        for name, sensor in lamp.sensors.items():
            self._node(f"sensor {name}", sensor.capacitance_j_per_k)
            self.links.append((f"sensor {name}", sensor.at, sensor.resistance_k_per_w, False))
            if sensor.to_ambient_k_per_w is not None:
                self.links.append(
                    (f"sensor {name}", lamp.ambients[0], sensor.to_ambient_k_per_w, False)
                )
        self.capacitance = np.array(self.capacitance)

    def _node(self, name, capacitance):
        assert capacitance > 0, "this second computation does not do massless nodes"
        self.index[name] = len(self.capacitance)
        self.capacitance.append(capacitance)

    def _branches(self, name, channel):
        emitter = self.emitters[channel.emitter]
        count = channel.series * channel.parallel
        points = channel.solder_point
        points = (points,) * count if isinstance(points, str) else points
        offsets = np.broadcast_to(channel.forward_voltage_offset_v, channel.parallel)
        branches = []
        for b in range(channel.parallel):
            junctions = []
            for s in range(channel.series):
                node = f"junction {name} {b} {s}"
                self._node(node, channel_capacitance := emitter.e.junction_capacitance_j_per_k)
                assert channel_capacitance > 0
                point = points[b * channel.series + s]
                self.links.append((node, point, emitter.real_resistance(), False))
                junctions.append(self.index[node])
            branches.append((emitter, float(offsets[b]), junctions))
        return branches

    def conductances(self, airflow):
        """Conductance matrix, and the vector of conductances to each ambient."""
        n = len(self.capacitance)
        g = np.zeros((n, n))
        to_ambient = {name: np.zeros(n) for name in self.lamp.ambients}
        for a, b, resistance, blown in self.links:
            value = (airflow if blown else 1.0) / resistance
            i = self.index[a]
            g[i, i] += value
            if b in self.index:
                j = self.index[b]
                g[j, j] += value
                g[i, j] -= value
                g[j, i] -= value
            else:
                to_ambient[b][i] += value
        return g, to_ambient

    def heat(self, temperatures, duties):
        """Heat [W] into every node at the given duties."""
        heat = np.zeros(len(temperatures))
        temperatures = temperatures.tolist()
        driver = self.lamp.driver
        electrical_w = 0.0
        for (name, branches), duty in zip(self.branches.items(), duties, strict=True):
            if duty == 0:
                continue
            on, part = (duty, 1.0) if driver.dimming == "current" else (1.0, duty)
            total = self.lamp.channels[name].current_a * on
            for (emitter, offset, junctions), current in zip(
                branches, share(branches, total, temperatures), strict=True
            ):
                for j in junctions:
                    t = temperatures[j]
                    power = part * current * (emitter.volts(current, t) + offset)
                    heat[j] += power - part * emitter.radiant_w(current, t)
                    electrical_w += power
        if driver.heat_node:
            heat[self.index[driver.heat_node]] += electrical_w * (1 / driver.efficiency - 1)
        return heat

    def advance(self, temperatures, seconds, duties, airflow, ambient, start_s):
        """Integrate over ``seconds``; ``ambient(t)`` gives ambient temperatures by name."""
        g, to_ambient = self.conductances(airflow)
        c = self.capacitance
        # the divider's power changes over minutes; it is held over one stretch of a tick
        steady = np.zeros(len(c))
        for name, sensor in self.lamp.sensors.items():
            i = self.index[f"sensor {name}"]
            steady[i] = self_heat_w(sensor, temperatures[i])

        def rate(t, y):
            into = self.heat(y, duties) + steady - g @ y
            for name, value in ambient(start_s + t).items():
                into += to_ambient[name] * value
            return into / c

        done = solve_ivp(
            rate,
            (0, seconds),
            temperatures,
            method="LSODA",
            rtol=1e-8,
            atol=1e-7,
            first_step=min(seconds, 1e-3),
            jac=lambda t, y: -g / c[:, None],
        )
        return done.y[:, -1]


def share(branches, total, temperatures):
    """Currents of parallel branches at one common voltage, by a root search."""
    if len(branches) == 1:
        return [total]

    def voltage(branch, current):
        emitter, offset, junctions = branch
        return sum(emitter.volts(current, temperatures[j]) + offset for j in junctions)

    first, second = branches  # the demo lamps have at most two
    one = brentq(
        lambda i: voltage(first, i) - voltage(second, total - i), 1e-9, total - 1e-9, xtol=1e-12
    )
    return [one, total - one]


def thermistor_ohm(th, thermistor_c):
    """Resistance of a thermistor by hand; Steinhart-Hart is inverted by a root search."""
    kelvin = thermistor_c + KELVIN
    if th.b_value_k is not None:
        return th.resistance_25_ohm * math.exp(th.b_value_k * (1 / kelvin - 1 / (25 + KELVIN)))
    if th.steinhart_hart is not None:
        a, b, c = th.steinhart_hart
    else:
        logs = np.log([r for _, r in th.points])
        matrix = np.stack([np.ones(3), logs, logs**3], axis=1)
        a, b, c = np.linalg.solve(matrix, [1 / (t + KELVIN) for t, _ in th.points])
    return math.exp(brentq(lambda x: a + b * x + c * x**3 - 1 / kelvin, -5, 25, xtol=1e-14))


def self_heat_w(sensor, thermistor_c):
    """Heat that the divider's current sets free in the thermistor."""
    ohm = thermistor_ohm(sensor.thermistor, thermistor_c)
    return (sensor.divider.supply_v / (ohm + sensor.divider.resistor_ohm)) ** 2 * ohm


def code_of(lamp, name, thermistor_c, current_a):
    """ADC code of a sensor by hand: resistance, divider, disturbance, errors, conversion."""
    sensor = lamp.sensors[name]
    divider, adc = sensor.divider, sensor.adc
    ohm = thermistor_ohm(sensor.thermistor, thermistor_c)
    supply = divider.supply_v - sensor.disturbance.supply_v_per_a * current_a
    if divider.arrangement == "pull-up":
        volts = supply * ohm / (ohm + divider.resistor_ohm)
    else:
        volts = supply * divider.resistor_ohm / (ohm + divider.resistor_ohm)
    volts += sensor.disturbance.ground_v_per_a * current_a
    reference = supply if divider.reference == "ratiometric" else divider.reference
    share = volts / reference
    bow = 4.0 * adc.inl_lsb * min(max(share, 0.0), 1.0) * (1.0 - min(max(share, 0.0), 1.0))
    bent = share * 2**adc.bits * (1.0 + adc.gain_error) + adc.offset_lsb + bow
    return int(min(max(math.floor(bent), 0), 2**adc.bits - 1))
