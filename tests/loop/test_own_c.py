"""C of the user's own runs on the batch clock as it does on the timeline, many units at once."""

import numpy as np
import pytest

from derate.errors import FirmwareError
from derate.firmware.build import reference_folder
from derate.lamp import Lamp
from derate.loop.batch import Batch
from derate.loop.ready import Specimen
from tests.firmware.own_c import own_c
from tests.loop.lamps import spot

FORGETFUL = "static uint16_t last; duties[0] = last; last = requests[0] ^ codes[0]; return last;"
"""A step that remembers where no memory of a unit is."""


def _lamp(folder, **changes):
    """The test spot with firmware of its own: copies of our C, or what is given."""
    names = ("controller.c", "derate.c", "foldback.c")
    for name in names:
        (folder / name).write_text((reference_folder() / name).read_text())
    files = [str(folder / name) for name in names]
    controller = {"body": "c", "c": files} | changes
    timing = {"control_period": 0.5, "adc_period": 0.5}
    return Lamp.model_validate(spot(controller=controller, timing=timing))


def test_a_copy_of_our_c_gives_what_ours_gives(tmp_path):
    """Figures of units with a copy of the reference are those with the reference, bit by bit."""
    own, ours = _lamp(tmp_path), _lamp(tmp_path, c=None)
    results = []
    for lamp in (own, ours):
        specimens = [Specimen(i, lamp, shift_k=2.0 * i) for i in range(9)]
        results.append(Batch(lamp, lamp.profiles["on"]).run(specimens))
    assert np.array_equal(results[0].peak_c, results[1].peak_c)
    assert results[0].throttled_s.max() > 0.0
    assert len(set(results[0].margin_k.tolist())) == 9


def test_memory_of_its_own_is_told(tmp_path):
    """C that remembers in a static variable is refused where units take turns."""
    (tmp_path / "own.c").write_text(own_c(FORGETFUL))
    lamp = _lamp(tmp_path, c=[str(tmp_path / "own.c")])
    with pytest.raises(FirmwareError, match="remembers only in the memory it is given"):
        Batch(lamp, lamp.profiles["on"]).run([Specimen(0, lamp)])


def test_another_profile_is_made_ready_from_the_first(tmp_path):
    """A batch taken through another profile gives what one made for that profile gives."""
    lamp = _lamp(tmp_path, c=None)
    profile = lamp.profiles["on"]
    dim = profile.model_copy(update={"duration_s": 60.0, "start_c": 40.0})
    specimens = [Specimen(i, lamp, shift_k=float(i)) for i in range(3)]
    first = Batch(lamp, profile)
    before = first.run(specimens).peak_c
    assert np.array_equal(first.through(dim).run(specimens).peak_c,
                          Batch(lamp, dim).run(specimens).peak_c)  # fmt: skip
    assert np.array_equal(first.run(specimens).peak_c, before)
