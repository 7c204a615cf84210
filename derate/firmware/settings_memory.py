"""A lamp's controller settings as they lie in the memory of this machine.

What the generated header says in C, for ``derate_start`` and ``derate_step`` of a compiled
controller, which take the settings by their address: other settings need no other program.
"""

import ctypes
from collections.abc import Iterable, Sequence
from typing import Any

from derate.firmware.observer_arrays import ObserverSettings, observer_settings
from derate.firmware.quantise import (
    Field,
    Table,
    controller_fields,
    levels_of,
    policy_fields,
    shares_q15,
    tables_of,
)
from derate.lamp.controller import Predictive
from derate.lamp.lamp import Lamp
from derate.sensing.chain import Chain

C_TYPES = {
    "u8": ctypes.c_uint8,
    "u16": ctypes.c_uint16,
    "i16": ctypes.c_int16,
    "u32": ctypes.c_uint32,
    "at": ctypes.c_void_p,
}


def _struct(name: str, text: str, **inner: Any) -> type[ctypes.Structure]:
    """A struct from its members in order, each a type and a name; ``inner``: other structs."""
    words = text.split()
    kinds = C_TYPES | inner
    members = [(kinds[kind], member) for kind, member in zip(words[::2], words[1::2], strict=True)]
    fields = [(member, kind) for kind, member in members]
    return type(name, (ctypes.Structure,), {"_fields_": fields})


TABLE = _struct(
    "Table",
    "at code at reading_centi_c u8 knots u16 low_code u16 high_code u16 low_flag u16 high_flag",
)
SETTINGS = _struct(
    "Settings",
    "u8 channels u8 sensors u8 filter_shift u8 latch tables table at policy at share_q15"
    " i16 cutoff_centi_c u16 safe_q15 u32 attack_q31 u32 release_q31 u32 hold_steps u32 clear_steps"
    " u16 max_jump_centi_k u16 disagreement_centi_k u16 stuck_drive_q15 u16 stuck_rise_centi_k"
    " i16 stuck_below_centi_c u32 stuck_off_steps u32 stuck_within_steps",
    tables=TABLE * 2,
)
GAIN = _struct("Gain", "u16 mantissa u8 shift")
LEVEL = _struct("Level", "i16 at_centi_c u16 limit_q15")
LAG = _struct("Lag", "u16 mantissa u8 shift")
POLICIES = {
    "none": _struct("OpenLoop", "u8 unused"),
    "steps": _struct("Steps", "at level u8 levels u16 hysteresis_centi_k"),
    "foldback": _struct(
        "Foldback", "i16 start_centi_c i16 end_centi_c u16 floor_q15 u16 hysteresis_centi_k"
    ),
    "pi": _struct(
        "Pi", "i16 setpoint_centi_c u16 floor_q15 gain gain gain integral_gain", gain=GAIN
    ),
    "predictive": _struct(
        "Predictive",
        "at end_centi_c at now_centi_k at gain_centi_k at unsure_centi_k at lag u8 places"
        " u8 channels u8 lags u16 band_centi_k u16 floor_q15",
    ),
}
"""The structs of derate.h and of each policy's header, as they are declared there."""


class SettingsMemory:
    """The settings of ``lamp``, kept as long as this is; ``address``: of struct derate_settings.

    Raises InputError when a setting cannot be held by the C.
    """

    def __init__(self, lamp: Lamp, chains: Sequence[Chain]) -> None:
        policy = POLICIES[lamp.controller.policy.kind]()
        self._kept: list[Any] = [policy]
        if isinstance(lamp.controller.policy, Predictive):
            self._lay_observer(policy, observer_settings(lamp, lamp.controller.policy))
        else:
            _fill(policy, policy_fields(lamp))
        if levels := levels_of(lamp):
            policy.level = self._rows(LEVEL, levels)
        self._settings = SETTINGS()
        _fill(self._settings, controller_fields(lamp))
        self._settings.policy = ctypes.addressof(policy)
        if shares := shares_q15(lamp):
            self._settings.share_q15 = self._numbers(ctypes.c_uint16, shares)
        for row, table in zip(self._settings.table, tables_of(lamp, chains), strict=False):
            self._lay(row, table)

    @property
    def address(self) -> int:
        """Where they lie."""
        return ctypes.addressof(self._settings)

    def _rows(self, kind: Any, rows: Sequence[tuple[Field, ...]]) -> int:
        """Where structs lie that are filled with ``rows``."""
        laid = (kind * len(rows))(*(kind(*(field.value for field in row)) for row in rows))
        self._kept.append(laid)
        return ctypes.addressof(laid)

    def _numbers(self, kind: Any, values: Sequence[int]) -> int:
        """Where an array of integers lies."""
        laid = (kind * len(values))(*values)
        self._kept.append(laid)
        return ctypes.addressof(laid)

    def _lay_observer(self, policy: Any, observer: ObserverSettings) -> None:
        _fill(policy, observer.fields)
        policy.lag = self._rows(LAG, observer.lags)
        for array in observer.arrays:
            kind = ctypes.c_int16 if array.kind == "int16_t" else ctypes.c_uint16
            setattr(policy, array.field, self._numbers(kind, array.values))

    def _lay(self, row: Any, table: Table) -> None:
        row.code = self._numbers(ctypes.c_uint16, table.code)
        row.reading_centi_c = self._numbers(ctypes.c_int16, table.reading_centi_c)
        row.knots = len(table.code)
        _fill(row, table.window)


def _fill(struct: Any, fields: Iterable[Field]) -> None:
    for field in fields:
        *path, name = field.name.split(".")
        place = struct
        for part in path:
            place = getattr(place, part)
        setattr(place, name, field.value)
