"""Impossible settings are refused at start, with a code, and never driven."""

import ctypes
import re
from pathlib import Path

import pytest

from derate.control.command import REFUSED
from derate.errors import InputError
from derate.firmware.build import build_library, controller_sources, reference_folder
from derate.firmware.header import FILE_NAME, POLICY_SOURCES, settings_header
from derate.firmware.host import HostBody
from tests.control.small_lamp import FOLDBACK, OPEN_LOOP, PI, PREDICTIVE, STEPS, small_lamp
from tests.firmware.reach import FULL_Q15

REASONS = ("ACCEPTED", "BAD_COUNT", "BAD_TABLE", "BAD_LIMIT", "BAD_FILTER", "BAD_RATE",
           "BAD_STUCK", "BAD_POLICY", "BAD_SHARE")  # fmt: skip
SHARING = {"way": "hottest first"}
STUCK = {"drive": 0.4, "off": "2 s", "within": "6 s", "rise": "3 K", "below": "40 degC"}


def replaced(header, field, value):
    """The header with another value for one field."""
    text, count = re.subn(rf"(\.{re.escape(field)} = )[^,]+,", rf"\g<1>{value},", header)
    assert count == 1
    return text


def built(policy, header, name):
    """The library of a header with changed settings; with the probe, or as a controller."""
    sources = list(controller_sources(POLICY_SOURCES[policy["kind"]]))
    if name == "probe":
        sources[0] = Path(__file__).parent / "probe.c"
    return build_library(sources, {FILE_NAME: header})


@pytest.mark.parametrize(
    ("policy", "field", "value", "reason"),
    [
        (FOLDBACK, "safe_q15", "8192", "ACCEPTED"),
        (FOLDBACK, "channels", "0", "BAD_COUNT"),
        (FOLDBACK, "sensors", "0", "BAD_COUNT"),
        (FOLDBACK, "sensors", "3", "BAD_COUNT"),
        (FOLDBACK, "table[0].knots", "1", "BAD_TABLE"),
        (FOLDBACK, "table[0].low_code", "2000", "BAD_TABLE"),
        (FOLDBACK, "table[0].high_code", "2000", "BAD_TABLE"),
        (FOLDBACK, "table[0].low_flag", "0", "BAD_TABLE"),
        (FOLDBACK, "table[0].high_flag", "0", "BAD_TABLE"),
        (FOLDBACK, "table[0].code", "(const uint16_t[]){400, 300, 4030}", "BAD_TABLE"),
        (FOLDBACK, "cutoff_centi_c", "13000", "BAD_LIMIT"),
        (FOLDBACK, "safe_q15", "32768u", "ACCEPTED"),
        (FOLDBACK, "safe_q15", "32769u", "BAD_LIMIT"),
        (FOLDBACK, "filter_shift", "8", "ACCEPTED"),
        (FOLDBACK, "filter_shift", "9", "BAD_FILTER"),
        (FOLDBACK, "attack_q31", "2147483648u", "ACCEPTED"),
        (FOLDBACK, "attack_q31", "2147483649u", "BAD_RATE"),
        (FOLDBACK, "release_q31", "2147483649u", "BAD_RATE"),
        (FOLDBACK, "stuck_rise_centi_k", "0", "BAD_STUCK"),
        (FOLDBACK, "stuck_within_steps", "0", "BAD_STUCK"),
        (FOLDBACK, "stuck_off_steps", "0", "BAD_STUCK"),
        (FOLDBACK, "end_centi_c", "5000", "BAD_POLICY"),
        (FOLDBACK, "floor_q15", "32769u", "BAD_POLICY"),
        (STEPS, "levels", "0", "BAD_POLICY"),
        (STEPS, "level", "(const struct derate_level[]){{50, 9}, {50, 8}, {60, 7}}", "BAD_POLICY"),
        (STEPS, "level", "(const struct derate_level[]){{50, 9}, {51, 10}, {60, 7}}", "BAD_POLICY"),
        (STEPS, "level", "(const struct derate_level[]){{50, 32769u}, {51, 10}, {60, 7}}",
         "BAD_POLICY"),
        (PI, "floor_q15", "32769u", "BAD_POLICY"),
        (PI, "gain.shift", "32", "BAD_POLICY"),
        (PREDICTIVE, "floor_q15", "32769u", "BAD_POLICY"),
        (PREDICTIVE, "band_centi_k", "0", "BAD_POLICY"),
        (PREDICTIVE, "band_centi_k", "65535u", "BAD_POLICY"),
        (PREDICTIVE, "places", "0", "BAD_POLICY"),
        (PREDICTIVE, "lags", "0", "BAD_POLICY"),
        (PREDICTIVE, "gain_centi_k", "(const int16_t[16]){-32767}", "BAD_POLICY"),
        (PREDICTIVE, "gain_centi_k", "(const int16_t[16]){-32700}", "ACCEPTED"),
        (PREDICTIVE, "lag", "(const struct derate_lag[5]){{1, 0}}", "BAD_POLICY"),
        (PREDICTIVE, "lag", "(const struct derate_lag[5]){{1, 21}}", "BAD_POLICY"),
        (OPEN_LOOP, "unused", "1", "BAD_POLICY"),
        (FOLDBACK, "share_q15", "(const uint16_t[34]){0}", "BAD_SHARE"),
        (FOLDBACK, "share_q15", "(const uint16_t[34]){[16] = 32768u, [33] = 32767u}", "BAD_SHARE"),
        (FOLDBACK, "share_q15", "(const uint16_t[34]){1, [16] = 32768u, [33] = 32768u}",
         "BAD_SHARE"),
        (FOLDBACK, "share_q15", "(const uint16_t[34]){[16] = 32768u, [20] = 2, [33] = 32768u}",
         "BAD_SHARE"),
        (FOLDBACK, "share_q15", "(const uint16_t[34]){[16] = 32768u, [33] = 32768u}", "ACCEPTED"),
    ],
)  # fmt: skip
def test_each_impossible_setting_has_its_code(policy, field, value, reason):
    """Check and start agree on the code; a controller that ignores it gives no light."""
    lamp = small_lamp(policy, stuck=STUCK, sharing=SHARING)
    header = replaced(settings_header(lamp), field, value)
    probe = ctypes.CDLL(str(built(policy, header, "probe")))
    assert probe.probe_check() == probe.probe_start() == REASONS.index(reason)
    if reason != "ACCEPTED":
        body = HostBody(small_lamp(policy), library=built(policy, header, "controller"))
        command = body.step([2000], [FULL_Q15, FULL_Q15])
        assert command.duties_q15 == (0, 0) or field == "channels"
        assert command.limit_q15 == 0
        assert command.status == REFUSED


@pytest.mark.parametrize(
    ("policy", "keys", "key"),
    [
        (FOLDBACK, {"max_jump": "0.0149 K"}, "max_jump"),
        (FOLDBACK | {"hysteresis": "0.123 K"}, {}, "policy.hysteresis"),
        (FOLDBACK, {"stuck": STUCK | {"rise": "0.004 K"}}, "stuck.rise"),
        (FOLDBACK, {"safe_duty": "0.003 %"}, "safe_duty"),
        (FOLDBACK | {"floor": 1e-5}, {}, "policy.floor"),
        (PREDICTIVE | {"floor": 1e-5}, {}, "policy.floor"),
        (PREDICTIVE | {"band": "0.004 K"}, {}, "policy.band"),
        (PREDICTIVE | {"band": "330 K"}, {}, "policy.band"),
        (PREDICTIVE | {"guard": "500 K"}, {}, "policy.guard"),
        (
            STEPS | {"levels": [{"at": "50 degC", "limit": 1e-5}]},
            {},
            "policy.levels[entry 1].limit",
        ),
    ],
)
def test_a_value_the_c_would_bend_is_refused(policy, keys, key):
    """A difference more than 1 % off in 0.01 K, or a share that becomes 0, is told by its key.

    Cause: only a difference that became 0 was refused, and shares never.
    """
    with pytest.raises(InputError, match=re.escape(f"controller.{key}: found ")):
        settings_header(small_lamp(policy, **keys))


@pytest.mark.parametrize("difference", ["0.01 K", "0.29 K", "0.506 K", "1.5 K", "655.35 K"])
def test_differences_within_one_percent_are_taken(difference):
    """Whole steps of 0.01 K, and anything from 0.5 K up."""
    assert "max_jump_centi_k" in settings_header(small_lamp(max_jump=difference))


def test_a_controller_never_started_gives_no_light():
    """Zeroed memory, as after a reset that forgot to start, is refused like bad settings."""
    body = HostBody(small_lamp())
    body.state = bytes(body.state_size)
    command = body.step([2000], [FULL_Q15, FULL_Q15])
    assert command == ((0, 0), 0, REFUSED)


def test_the_reasons_are_those_of_the_header():
    """The order of the codes is that of enum derate_refusal."""
    text = (reference_folder() / "derate.h").read_text()
    body = text[text.index("enum derate_refusal {") : text.index("};")]
    assert tuple(re.findall(r"DERATE_(ACCEPTED|BAD_\w+)", body)) == REASONS
