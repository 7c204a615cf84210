"""The lamp file: what is in it, read and checked, with errors that say what is due."""

from derate.lamp.board import Base, Board, Face, Hole, Interface
from derate.lamp.channel import Channel
from derate.lamp.controller import (
    Controller,
    Custom,
    Foldback,
    Level,
    OpenLoop,
    Pi,
    Predictive,
    Steps,
    Stuck,
)
from derate.lamp.course import Course
from derate.lamp.driver import Bypass, Driver, Timing
from derate.lamp.emitter import Emitter, Solder
from derate.lamp.ladder import Ladder
from derate.lamp.lamp import Lamp
from derate.lamp.layer import Copper, Dielectric, Layer, Vias
from derate.lamp.material import Material
from derate.lamp.network import Link, Node
from derate.lamp.profile import Event, Profile
from derate.lamp.read import load, load_profile, profile_of, starter_text
from derate.lamp.sensor import Adc, Disturbance, Divider, Sensor
from derate.lamp.spectrum import Spectrum
from derate.lamp.surface import Box, Fan, Fins, Given, Plate, Surface
from derate.lamp.thermistor import Thermistor
from derate.lamp.tolerance import Deviation, Tolerance
from derate.lamp.tolerances import Together, Varies
from derate.lamp.variation import variations

__all__ = [
    "Adc",
    "Base",
    "Board",
    "Box",
    "Bypass",
    "Channel",
    "Controller",
    "Copper",
    "Course",
    "Custom",
    "Deviation",
    "Dielectric",
    "Disturbance",
    "Divider",
    "Driver",
    "Emitter",
    "Event",
    "Face",
    "Fan",
    "Fins",
    "Foldback",
    "Given",
    "Hole",
    "Interface",
    "Ladder",
    "Lamp",
    "Layer",
    "Level",
    "Link",
    "Material",
    "Node",
    "OpenLoop",
    "Pi",
    "Plate",
    "Predictive",
    "Profile",
    "Sensor",
    "Solder",
    "Spectrum",
    "Steps",
    "Stuck",
    "Surface",
    "Thermistor",
    "Timing",
    "Together",
    "Tolerance",
    "Varies",
    "Vias",
    "load",
    "load_profile",
    "profile_of",
    "starter_text",
    "variations",
]
