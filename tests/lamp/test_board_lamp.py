"""A lamp with a board: its materials, places and surfaces, and changing it key by key."""

import copy
import re
import tomllib
from pathlib import Path

import pytest

from derate.errors import InputError
from derate.lamp import Box, Fins, Given, Lamp, Material, Plate, Solder, load
from derate.lamp.lamp import validated
from derate.lamp.material import built_in_materials, built_in_tables
from derate.lamp.quantities import Source

FILE = Path(__file__).parent / "board_lamp.toml"
RAW = tomllib.loads(FILE.read_text(encoding="utf-8"))
ROUNDING = 1e-12
"""Relative: a few products in double precision."""


@pytest.fixture(scope="module")
def lamp():
    """The lamp with a board."""
    return load(FILE)


def leaves(raw, way=()):
    """Every value of a parsed file with its path."""
    entries = raw.items() if isinstance(raw, dict) else enumerate(raw)
    for key, value in entries:
        if isinstance(value, dict | list):
            yield from leaves(value, (*way, key))
        else:
            yield (*way, key), value


def at(raw, way):
    """The value at a path."""
    for step in way:
        raw = raw[step]
    return raw


LEAVES = [way for way, _ in leaves(RAW)]


@pytest.mark.parametrize("way", LEAVES, ids=lambda way: ".".join(map(str, way)))
def test_every_key_can_be_changed(way, lamp):
    """Each value of the file, written there again as text or as a number, gives the same lamp."""
    path = ".".join(map(str, way))
    assert lamp.with_changes({path: at(RAW, way)}).model_dump() == lamp.model_dump()
    number = at(lamp.model_dump(by_alias=True), way)
    assert lamp.with_changes({path: number}).model_dump() == lamp.model_dump()


@pytest.mark.parametrize(
    ("path", "value", "there"),
    [
        ("board.core.thickness", "2 mm", lambda lamp: lamp.board.core.thickness_m == 0.002),
        ("board.holes.1.diameter", 4e-3, lambda lamp: lamp.board.holes[1].diameter_m == 4e-3),
        ("board.vias", None, lambda lamp: lamp.board.vias is None),
        ("channels.flood.at.1.0", 0.031, lambda lamp: lamp.channels["flood"].at[1][0] == 0.031),
        ("channels.flood.at", [[0.02, 0.02]] * 2, lambda lamp: len(lamp.places()) == 3),
        ("surfaces.fins.fins", 12, lambda lamp: lamp.surfaces["fins"].fins == 12),
        ("surfaces.lid", None, lambda lamp: list(lamp.surfaces) == ["fins", "shell", "stub"]),
        ("driver.bypass", None, lambda lamp: lamp.driver.bypass is None),
        ("links.1.ladder.resistance.0", 5, lambda lamp: lamp.links[1].ladder.total_k_per_w == 8),
        ("sensors.ntc.at", "board", lambda lamp: lamp.sensor_node("ntc") == "board"),
        ("nodes.sink.mass", 0.2, lambda lamp: lamp.capacitance_j_per_k("sink") == 0.2 * 880),
        (
            "materials.copper.conductivity",
            300.0,
            lambda lamp: lamp.material("copper").through_conductivity_w_per_m_k == 300.0,
        ),
    ],
)
def test_a_change_arrives(path, value, there, lamp):
    """What is changed is changed, and no more asked of the lamp than it was."""
    assert not there(lamp)
    assert there(lamp.with_changes({path: value}))


def test_a_table_of_its_own_can_be_added(lamp):
    """A surface or a face that was not there comes with its whole table."""
    plate = {"of": "tail", "to": "sea", "kind": "plate", "size": ["1 cm", 0.02], "facing": "down"}
    more = lamp.with_changes({"surfaces.keel": plate | {"fluid": "water"}})
    assert more.surfaces["keel"].size_m == (0.01, 0.02)
    back = {"board.interface": None, "board.back": {"facing": "down"}, "profiles": None}
    bare = lamp.with_changes(back | {"surfaces.lid.of": "housing", "links.0.between.1": "sink"})
    assert list(bare.board.faces) == ["front", "back"]


def test_a_change_that_does_not_fit_is_refused(lamp):
    """A board that shrinks under its emitters is told by the first that falls off."""
    with pytest.raises(InputError, match=r"channels\.flood\.at\[entry 2\]: .* within the outline"):
        lamp.with_changes({"board.size": [0.03, 0.04], "board.holes": []})


def test_parts_built_in_python_can_be_changed(lamp):
    """A kind that Python implied by its class is not lost when the lamp is written out."""
    surfaces = {
        "given": Given(of="tail", to="sea", resistance_k_per_w=4, rise_k=50),
        "plate": Plate(of="sink", to="room", size_m=(0.1, 0.1), facing="side", emissivity=0.9),
        "box": Box(of="housing", to="room", size_m=(0.1, 0.1, 0.1), emissivity=0.9),
        "fins": Fins(
            of="sink", to="room", size_m=(0.1, 0.1), fins=5, fin_height_m=0.02,
            fin_thickness_m=1e-3, material="copper", emissivity=0.5,
        ),
    }  # fmt: skip
    raw = lamp.model_dump(by_alias=True, exclude_unset=True) | {"surfaces": surfaces}
    built = Lamp.model_validate(raw)
    changed = built.with_changes({"surfaces.plate.size.0": "50 mm"})
    assert changed.surfaces["plate"].size_m == (0.05, 0.1)
    assert changed.surfaces["fins"] == surfaces["fins"]
    other = built.with_changes({"materials.my_core.conductivity": 10})
    assert other.material("my_core").through_conductivity_w_per_m_k == 120.0


def test_places_are_named_by_channel_and_sensor(lamp):
    """Nodes on the board count the distinct positions of a channel, in the order they appear."""
    assert lamp.solder_points("flood") == ("solder.flood.1", "solder.flood.2")
    assert lamp.solder_points("rear") == ("housing",)
    assert lamp.sensor_node("ntc") == "place.ntc"
    assert list(lamp.places()) == [
        "solder.flood.1", "solder.flood.2", "solder.glow.1", "place.ntc",
    ]  # fmt: skip
    assert lamp.places()["solder.glow.1"] == (0.02, 0.026)
    assert lamp.named_nodes == ["sink", "housing", "tail", "board"]


def test_emitters_at_one_position_share_a_node(lamp):
    """Two emitters of a channel on one pad count once; another channel's there is another node."""
    twice = [["20 mm", "20 mm"], ["30 mm", "20 mm"], ["20 mm", "20 mm"], ["30 mm", "20 mm"]]
    changed = lamp.with_changes(
        {
            "channels.flood.parallel": 2,
            "channels.flood.at": twice,
            "channels.glow.at": [["30 mm", "20 mm"]],
            "channels.glow.pad_on": "dielectric",
        }
    )
    assert changed.solder_points("flood") == ("solder.flood.1", "solder.flood.2") * 2
    assert changed.places()["solder.glow.1"] == changed.places()["solder.flood.2"]
    assert len(changed.places()) == 4


def test_a_crowd_of_emitters_is_refused(lamp):
    """More different positions than a network can have nodes are told by their number."""
    crowd = [[0.01 + 1e-4 * i, 0.02] for i in range(301)]
    changes = {"channels.flood.series": 301, "channels.flood.at": crowd}
    with pytest.raises(InputError, match=r"flood\.at: found 301, due at most 300 different"):
        lamp.with_changes(changes)


def test_a_board_alone_makes_a_lamp(lamp):
    """With faces in air a board needs no node, no link and no surface beside it."""
    raw = copy.deepcopy(lamp.with_changes({}).model_dump(by_alias=True, exclude_unset=True))
    for key in ("nodes", "links", "surfaces", "profiles"):
        del raw[key]
    del raw["channels"]["rear"]
    del raw["board"]["interface"]
    assert Lamp.model_validate(raw).named_nodes == ["board"]


@pytest.mark.parametrize(
    ("gone", "node", "sentence"),
    [
        (("nodes", "links", "surfaces"), "sink", "nodes: found nothing, due at least one table"),
        (("links", "surfaces"), "sink", "nodes.sink: found no way out, due links or surfaces"),
    ],
)
def test_what_no_lamp_can_do_without_is_told(gone, node, sentence):
    """Neither board nor nodes, or nothing that leads out of a node: the key at fault is named."""
    raw = {key: value for key, value in RAW.items() if key not in ("board", "driver", *gone)}
    raw["channels"] = {"rear": RAW["channels"]["rear"] | {"solder_point": node}}
    raw["sensors"] = {"ntc": RAW["sensors"]["ntc"] | {"at": node}}
    with pytest.raises(InputError, match=re.escape(f"less.toml: {sentence}")):
        validated(Lamp.model_validate, raw, Source(), "less.toml")


def test_a_board_that_keeps_its_heat_is_told(lamp):
    """Without interface, faces and links the board itself has no way out."""
    changes = {"board.interface": None, "board.front": None, "profiles": None}
    changes |= {"links.0.between.0": "tail"}
    with pytest.raises(InputError, match=r": board: found no way out, due an interface"):
        lamp.with_changes(changes)


def test_every_built_in_material_says_where_it_comes_from():
    """No value without a source, and none beyond what solids reach."""
    assert len(built_in_materials()) >= 14
    for name, material in built_in_materials().items():
        assert len(material.source) > 10, name
        assert 0.1 < material.through_conductivity_w_per_m_k <= material.conductivity_w_per_m_k
        dulong_petit = 25e6  # J/(m^3 K) of the densest packed atoms, more than any solid stores
        assert 1e6 < material.heat_j_per_m3_k < dulong_petit / 5, name
        assert material == Material.model_validate(built_in_tables()[name])


def test_a_material_conducts_alike_both_ways_unless_told(lamp):
    """Only laminates conduct less across; a change of one conductivity carries the other along."""
    differing = [
        name
        for name, material in built_in_materials().items()
        if material.through_conductivity_w_per_m_k != material.conductivity_w_per_m_k
    ]
    assert differing == ["fr4"]
    paste = lamp.material("thermal_paste")
    assert (paste.conductivity_w_per_m_k, paste.through_conductivity_w_per_m_k) == (1.5, 1.5)
    assert paste.density_kg_per_m3 == built_in_materials()["thermal_paste"].density_kg_per_m3
    assert paste.source == ""  # the list's source no longer holds
    fr4 = lamp.with_changes({"materials.fr4.conductivity": 0.8}).material("fr4")
    assert fr4.through_conductivity_w_per_m_k == 0.343
    with pytest.raises(KeyError):
        lamp.material("unobtainium")


def test_a_bare_conductivity_borrows_the_rest(lamp):
    """A film of a conductivity only stores heat like the material that films of its kind are of."""
    film = lamp.material_of(lamp.board.dielectric)
    assert film.conductivity_w_per_m_k == film.through_conductivity_w_per_m_k == 2.2
    assert film.heat_j_per_m3_k == built_in_materials()["ims_dielectric"].heat_j_per_m3_k
    solder = lamp.material_of(Solder(thickness_m=1e-4, material="my_core"))
    assert solder == lamp.material("my_core")


@pytest.mark.parametrize(
    ("changes", "expected_mm2"),
    [
        ({}, 1e-4 / 1.5 * 1e6),
        ({"material": None, "conductivity": 4}, 25.0),
        ({"material": None, "thickness": None, "area_resistance": "20 mm^2*K/W"}, 20.0),
        ({"material": "fr4"}, 1e-4 / 0.343 * 1e6),
    ],
)
def test_an_interface_has_an_area_resistance(changes, expected_mm2, lamp):
    """Thickness over the conductivity across the film, or as given."""
    changed = lamp.with_changes({f"board.interface.{key}": to for key, to in changes.items()})
    found = changed.area_resistance_m2_k_per_w(changed.board.interface)
    assert found == pytest.approx(expected_mm2 * 1e-6, rel=ROUNDING)


def test_mass_and_material_make_a_heat_capacity(lamp):
    """Mass times specific heat, or the capacitance as given, or none."""
    assert lamp.capacitance_j_per_k("sink") == pytest.approx(0.18 * 880, rel=ROUNDING)
    assert lamp.capacitance_j_per_k("housing") == 60.0
    assert lamp.with_changes({"nodes.tail": {}}).capacitance_j_per_k("tail") == 0.0


def test_an_emissivity_left_out_is_that_of_the_material(lamp):
    """Fins ask their material, faces the core, plates that of their node; water lets none out.

    Metals of the built-in list have none, so that nobody forgets the paint.
    """
    for name in ("copper", "aluminium_6061", "die_cast_aluminium", "steel"):
        assert built_in_materials()[name].emissivity is None
    assert lamp.emissivity_of(lamp.surfaces["lid"]) == 0.9
    assert lamp.emissivity_of(lamp.surfaces["shell"]) == 0.0
    assert lamp.emissivity_of(lamp.surfaces["fins"]) == 0.2
    assert lamp.emissivity_of(lamp.board.front) == lamp.material("my_core").emissivity == 0.2
    bare = lamp.with_changes({"surfaces.lid.emissivity": None})
    assert bare.emissivity_of(bare.surfaces["lid"]) == 0.2
    black = lamp.with_changes({"board.front.emissivity": 0})
    assert black.emissivity_of(black.board.front) == 0.0


def test_the_first_ambient_stands_for_one_not_named(lamp):
    """A surface without `to` sheds into the first ambient."""
    assert lamp.outside(lamp.surfaces["lid"].to) == "room"
    assert lamp.outside(lamp.surfaces["shell"].to) == "sea"


@pytest.mark.parametrize(
    ("weight", "thickness_m"), [("1 oz", 34.8e-6), ("2oz", 69.6e-6), ("0.5 oz/ft^2", 17.4e-6)]
)
def test_copper_by_its_weight(weight, thickness_m, lamp):
    """Copper may be given in ounces on a square foot, and nothing else may."""
    heavy = lamp.with_changes({"board.copper.thickness": weight})
    assert heavy.board.copper.thickness_m == pytest.approx(thickness_m, rel=ROUNDING)
    with pytest.raises(InputError, match=r"board\.core\.thickness: found"):
        lamp.with_changes({"board.core.thickness": weight})


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("FR-4", "fr4"),
        ("aluminum_5052", "aluminium_5052"),
        ("Aluminium nitride", "aluminium_nitride"),
    ],
)
def test_materials_have_more_than_one_name(word, name, lamp):
    """A usual word stands for a built-in material; an own one of that name comes first."""
    named = lamp.with_changes({"board.core.material": word, "board.front.emissivity": 0.9})
    assert named.material(named.board.core.material) == built_in_materials()[name]
    changed = named.with_changes({f"materials.{name}.conductivity": 7.0})
    assert changed.material(word).conductivity_w_per_m_k == 7.0


def test_an_own_material_comes_before_a_word(lamp):
    """A lamp's own grease is its own, whatever the word stands for elsewhere."""
    own = {"conductivity": 4.0, "density": 2500.0, "specific_heat": 800.0}
    greased = lamp.with_changes({"materials.grease": own, "board.interface.material": "grease"})
    assert greased.material("grease").conductivity_w_per_m_k == 4.0
    assert lamp.material("grease") == lamp.material("thermal_paste")
