"""The summary for machines."""

import json
import math
from dataclasses import replace

import numpy as np

from derate.report.summary import summary, to_json


def refuse(constant):
    """Called by the reader for NaN and Infinity."""
    raise AssertionError(f"{constant} in JSON")


def test_json_comes_back_as_it_went(exceeded):
    """The document reads back equal, and holds what the result holds."""
    document = json.loads(to_json(exceeded), parse_constant=refuse)
    assert document == summary(exceeded)
    assert document["held"] is False
    merit = exceeded.merit.channels["high_beam"]
    assert document["channels"]["high_beam"]["peak_junction_c"] == merit.peak_junction_c
    assert document["hunting"]["cause"] == "poll"
    assert document["provenance"]["seed"] == 0
    assert [h["kind"] for h in document["happenings"]][:2] == ["throttle", "profile"]


def test_what_is_no_number_is_null(held):
    """NaN, infinity and numpy's own types become plain JSON."""
    sensor = replace(held.merit.sensors["board"], worst_low_k=math.nan, rms_k=np.float64(0.5))
    merit = replace(held.merit, sensors={"board": sensor}, largest_step=math.inf)
    document = json.loads(to_json(replace(held, merit=merit)), parse_constant=refuse)
    assert document["sensors"]["board"]["worst_low_k"] is None
    assert document["sensors"]["board"]["rms_k"] == 0.5
    assert document["largest_step"] is None
