"""Doubts: what is allowed but hardly meant is told, what is right is not."""

from derate.lamp import load, starter_text
from derate.lamp.doubts import doubts


def starter(tmp_path, **changes):
    """The starter lamp with changes."""
    path = tmp_path / "lamp.toml"
    path.write_text(starter_text())
    return load(path).with_changes(changes)


def test_the_starter_is_beyond_doubt(tmp_path):
    """The lamp a newcomer begins from gives no warning."""
    assert doubts(starter(tmp_path)) == ()


def test_a_foldback_past_the_cutoff_is_doubted(tmp_path):
    """The end of the foldback above the cut-off is named with both temperatures."""
    (sentence,) = doubts(starter(tmp_path, **{"controller.policy.end": "95 degC"}))
    assert sentence.startswith("controller.policy.end: 95 degC")
    assert "cut-off of 85 degC" in sentence


def test_a_step_past_the_cutoff_is_doubted(tmp_path):
    """A level that the cut-off hides is named by its entry."""
    levels = [{"at": "60 degC", "limit": 0.5}, {"at": "90 degC", "limit": 0.2}]
    policy = {"kind": "steps", "hysteresis": "3 K", "levels": levels}
    (sentence,) = doubts(starter(tmp_path, **{"controller.policy": policy}))
    assert sentence.startswith("controller.policy.levels[entry 2].at: 90 degC")


def test_an_attack_on_what_predicts_is_doubted(tmp_path):
    """The predictive policy counts on a limit that falls at once."""
    policy = {"kind": "predictive", "band": "2 K", "guard": "3 K"}
    changes = {"controller.policy": policy, "controller.attack": "20 %/s"}
    (sentence,) = doubts(starter(tmp_path, **changes))
    assert sentence.startswith("controller.attack: the policy")


def test_two_sensors_that_are_not_compared_are_doubted(tmp_path):
    """Without a disagreement check a second sensor is half used."""
    lamp = starter(tmp_path)
    sensor = lamp.model_dump(mode="json", by_alias=True, exclude_unset=True)["sensors"]["ntc"]
    (sentence,) = doubts(lamp.with_changes({"sensors.second": sensor}))
    assert sentence.startswith("controller.disagreement: not given")


def test_a_pwm_slower_than_the_control_is_doubted(tmp_path):
    """Pulses longer than a control period are told, since light and heat are means over them."""
    (sentence,) = doubts(starter(tmp_path, **{"driver.frequency": "4 Hz"}))
    assert sentence.startswith("driver.frequency: a PWM period of 0.25 s")
    assert "control period of" in sentence


def test_a_spectrum_that_its_fluxes_deny_is_doubted(tmp_path):
    """Lumens per watt of the spectrum are held against those of the fluxes, 15 % apart at most."""
    line = {"wavelength": ["554 nm", "555 nm", "556 nm"], "power": [0, 1, 0]}
    (sentence,) = doubts(starter(tmp_path, **{"emitters.white.spectrum": line}))
    assert sentence.startswith("emitters.white.spectrum: is worth 683 lm for each radiant watt")
    assert sentence.endswith("luminous_flux and radiant_flux say 314 to 318")
    broad = {"peak": "560 nm", "width": "218 nm"}
    assert doubts(starter(tmp_path, **{"emitters.white.spectrum": broad})) == ()


def drawn(tmp_path, **changes):
    """The starter lamp that is described by its drawing, with changes."""
    path = tmp_path / "drawn.toml"
    path.write_text(starter_text(board=True))
    return load(path).with_changes({"tolerances": None} | changes)


def test_the_drawn_starter_is_beyond_doubt(tmp_path):
    """The lamp from a drawing that a newcomer begins from gives no warning."""
    assert doubts(drawn(tmp_path)) == ()


def test_pads_on_bare_metal_are_doubted(tmp_path):
    """A metal core without dielectric is named, an insulating core is not."""
    (sentence,) = doubts(drawn(tmp_path, **{"board.dielectric": None}))
    assert sentence.startswith("board.dielectric: not given")
    assert "aluminium_5052" in sentence
    ceramic = {"board.dielectric": None, "board.core.material": "alumina"}
    assert doubts(drawn(tmp_path, **ceramic)) == ()
    on_core = {"board.dielectric": None, "channels.flood.pad_on": "core"}
    assert doubts(drawn(tmp_path, **on_core, **{"channels.spot.pad_on": "core"})) == ()


def test_vias_through_metal_are_doubted(tmp_path):
    """Plated holes short a metal core."""
    vias = {"pitch": "1 mm", "drill": "0.3 mm", "plating": "25 um"}
    (sentence,) = doubts(drawn(tmp_path, **{"board.vias": vias}))
    assert sentence.startswith("board.vias: ")


def test_a_partner_of_another_size_is_doubted(tmp_path):
    """A larger heat sink without its plate is told, and one smaller than the board."""
    (sentence,) = doubts(drawn(tmp_path, **{"board.interface.base": None}))
    assert sentence.startswith("board.interface.base: not given although surface heat_sink")
    small = {"board.interface.base": None, "surfaces.heat_sink.size": ["30 mm", "30 mm"]}
    (sentence,) = doubts(drawn(tmp_path, **small))
    assert sentence.startswith("surfaces.heat_sink.size: smaller than the board")


def test_slips_of_a_drawing_are_doubted(tmp_path):
    """Copper thicker than its core is told, and a thermistor where an emitter stands."""
    (sentence,) = doubts(drawn(tmp_path, **{"board.copper.thickness": "3 mm"}))
    assert sentence == "board.copper.thickness: 3 mm is more than the core's 1.5 mm"
    (sentence,) = doubts(drawn(tmp_path, **{"sensors.ntc.at": ["35 mm", "25 mm"]}))
    assert sentence.startswith("sensors.ntc.at: below an emitter of channel spot")
    beside = {"sensors.ntc.at": ["35 mm", "23 mm"]}
    assert doubts(drawn(tmp_path, **beside)) == ()
