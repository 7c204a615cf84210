"""What a figure of a page is, with the words that belong to it."""

from collections.abc import Callable
from typing import Generic, NamedTuple, TypeVar

from matplotlib.figure import Figure

Subject = TypeVar("Subject")
"""What a figure shows: a run, or a study of what the firmware reads."""


class Kind(NamedTuple, Generic[Subject]):
    """A figure: file name, heading, how to draw it, what it shows, and where to look."""

    name: str
    heading: str
    draw: Callable[[Subject], Figure]
    alt: Callable[[Subject], str]
    caption: str
