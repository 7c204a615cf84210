"""The lamp file: what is in it, read and checked, with errors that say what is due."""

from derate.lamp.channel import Channel
from derate.lamp.controller import Controller, Custom, Foldback, Level, OpenLoop, Pi, Steps, Stuck
from derate.lamp.course import Course
from derate.lamp.driver import Driver, Timing
from derate.lamp.emitter import Emitter
from derate.lamp.lamp import Lamp
from derate.lamp.network import Link, Node
from derate.lamp.profile import Event, Profile
from derate.lamp.read import load, load_profile, profile_of, starter_text
from derate.lamp.sensor import Adc, Disturbance, Divider, Sensor
from derate.lamp.thermistor import Thermistor

__all__ = [
    "Adc",
    "Channel",
    "Controller",
    "Course",
    "Custom",
    "Disturbance",
    "Divider",
    "Driver",
    "Emitter",
    "Event",
    "Foldback",
    "Lamp",
    "Level",
    "Link",
    "Node",
    "OpenLoop",
    "Pi",
    "Profile",
    "Sensor",
    "Steps",
    "Stuck",
    "Thermistor",
    "Timing",
    "load",
    "load_profile",
    "profile_of",
    "starter_text",
]
