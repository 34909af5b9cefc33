"""How trees stand, in the configuration."""

from typing import get_args

import jsonschema
import pytest

from alertd.config.document import Document
from alertd.config.outline import annotation_at, description_at
from alertd.config.standing_sections import measured_schema
from alertd.hardiness import HardinessClass
from alertd.risk import RuleSettings
from alertd.risk.assessment import root_zone_limit
from alertd.site import (
    CoverBuild,
    CoverFill,
    CoverMaterial,
    Insulation,
    MulchBuild,
    MulchMaterial,
    Place,
    PotStanding,
    StandsOn,
    StoreKind,
    StoreRoom,
    Substrate,
    Wetness,
)
from alertd.thermal.all_parameters import KNOWN_PARAMETERS
from alertd.thermal.parameters import Parameter

SHARE = Parameter("invented_share", 0.5, 0.3, 0.7, "1", "an invented share", "assumed")
GROUND = Parameter("invented_ground", 6.0, 2.0, 10.0, "Cel", "an invented temperature", "assumed")
OFFSET = Parameter("invented_offset", 0.0, -1.0, 1.0, "K", "an invented difference", "assumed")
EXACT = Parameter("invented_heat", 4.18e6, 4.18e6, 4.18e6, "J/(m3.K)", "an invented heat", "from memory")


@pytest.fixture
def parameters(monkeypatch):
    """Let the models have some numbers of which these tests know the usual range."""
    for parameter in (SHARE, GROUND, OFFSET, EXACT):
        monkeypatch.setitem(KNOWN_PARAMETERS, parameter.name, parameter)


def with_pots(valid, lines):
    """Return the valid configuration with further lines of its group in pots."""
    assert valid.count("litres = 25\n") == 1
    return valid.replace("litres = 25\n", f"litres = 25\n{lines}\n")


def with_wall(valid, lines):
    """Return the valid configuration with further lines of its group in the ground."""
    assert valid.count('protection = "wrap"\n') == 1
    return valid.replace('protection = "wrap"\n', f'protection = "wrap"\n{lines}\n')


def test_whoever_says_nothing_gets_what_is_usual(loaded, valid):
    for group in loaded(valid).garden.groups:
        assert group.pot == PotStanding()
        assert group.cover_build == CoverBuild()
        assert group.mulch_build == MulchBuild()
        assert group.place == Place()
        assert group.store_room is None
        assert group.parameters == ()


def test_a_pot_is_told_in_centimetres_and_kept_in_metres(loaded, valid):
    pot = (
        'pot = { stands_on = "feet", together = 12, substrate = "potting_mix", wetness = "dry", insulation = "jute", '
        "mulch_cm = 15, sun = 0.1, top_diameter_cm = 34, height_cm = 33.5 }"
    )
    assert loaded(with_pots(valid, pot)).garden.groups[0].pot == PotStanding(
        StandsOn.FEET, 12, Substrate.POTTING_MIX, Wetness.DRY, Insulation.JUTE, 0.15, 0.1, 0.34, 0.335
    )


def test_a_table_of_its_own_says_the_same_as_one_in_a_line(loaded, valid):
    inline = loaded(with_pots(valid, 'pot = { stands_on = "soil", together = 3 }'))
    table = loaded(with_pots(valid, '[groups.pot]\nstands_on = "soil"\ntogether = 3'))
    assert inline.garden.groups == table.garden.groups
    assert table.garden.groups[0].pot.together == 3


def test_a_wrap_is_told_in_metres_and_its_gain_in_the_units_of_the_file(loaded, valid):
    cover = (
        'cover = { material = "frost_cloth", diameter_m = 0.9, height_m = 2.5, closed_at_ground = false, '
        'skirt_m = 0.5, fill = "dry_leaves", measured_gain = 9 }'
    )
    assert loaded(with_wall(valid, cover)).garden.groups[1].cover_build == CoverBuild(
        CoverMaterial.FROST_CLOTH,
        0.9,
        2.5,
        is_closed_at_ground=False,
        skirt=0.5,
        fill=CoverFill.DRY_LEAVES,
        measured_gain=5.0,
    )
    celsius = with_wall(valid, "cover = { measured_gain = 4 }").replace('units = "degF"\n', "")
    celsius = celsius.replace("wood = 14", "wood = -10").replace("spring_limit = 31", "spring_limit = -1")
    assert loaded(celsius).garden.groups[1].cover_build.measured_gain == 4.0


@pytest.mark.parametrize("protection", ["mulch_ring", "bend_and_mulch"])
def test_mulch_is_told_in_centimetres(loaded, valid, protection):
    text = with_wall(valid, 'mulch = { material = "wood_chips", depth_cm = 25, tarp = true }')
    result = loaded(text.replace('"wrap"', f'"{protection}"'))
    assert result.garden.groups[1].mulch_build == MulchBuild(MulchMaterial.WOOD_CHIPS, 0.25, has_tarp=True)


def test_a_place_is_told_in_degrees_of_the_file(loaded, valid):
    place = "place = { wall_view = 0.3, wall_warmer_by = 3.6, hollow_offset = -5.4, branch_cm = 2 }"
    assert loaded(with_wall(valid, place)).garden.groups[1].place == Place(
        wall_view=0.3, wall_warmer_by=2.0, hollow_offset=-3.0, branch=0.02
    )


def test_a_store_room_is_told_by_how_long_it_lags_and_by_its_thermometer(loaded, valid):
    store = 'store = { kind = "cellar", time_constant = "20h", sensor = "cellar" }'
    text = with_pots(valid, store) + '[observations]\nfile = "cellar.csv"\nstation = "cellar"\n'
    assert loaded(text).garden.groups[0].store_room == StoreRoom(StoreKind.CELLAR, 72_000.0, "cellar")


def test_a_room_of_which_only_one_thing_is_said_is_an_unheated_garage_otherwise(loaded, valid):
    assert loaded(with_pots(valid, "store = {}")).garden.groups[0].store_room == StoreRoom()
    lagging = loaded(with_pots(valid, '[groups.store]\ntime_constant = "2d"')).garden.groups[0].store_room
    assert lagging == StoreRoom(StoreKind.UNHEATED_GARAGE, 172_800.0)


def test_a_room_is_kept_above_a_temperature_in_the_units_of_the_file(loaded, valid):
    room = loaded(with_pots(valid, "store = { kept_above = 41 }")).garden.groups[0].store_room
    assert room == StoreRoom(kept_above=5.0)


@pytest.mark.parametrize("substrate", Substrate)
def test_a_pot_may_be_filled_with_any_mix_that_the_models_know(loaded, valid, substrate):
    pot = f'pot = {{ substrate = "{substrate.value}" }}'
    assert loaded(with_pots(valid, pot)).garden.groups[0].pot == PotStanding(substrate=substrate)


@pytest.mark.usefixtures("parameters")
def test_measured_numbers_are_kept_by_name_in_order(loaded, valid):
    lines = "[groups.measured]\ninvented_share = 0.45\ninvented_ground = -3\ninvented_offset = -20\ninvented_heat = 4e6"
    assert loaded(with_pots(valid, lines)).garden.groups[0].parameters == (
        ("invented_ground", -3.0),
        ("invented_heat", 4e6),
        ("invented_offset", -20.0),
        ("invented_share", 0.45),
    )


POTS, WALL = with_pots, with_wall


@pytest.mark.parametrize(
    ("put", "lines", "expected"),
    [
        (POTS, "pot = 5", "groups[0].pot: must be a table; write it as a section with its own keys"),
        (POTS, "pot = { stand_on = 1 }", 'groups[0].pot.stand_on: is no known key; did you mean "stands_on"?'),
        (
            POTS,
            'pot = { stands_on = "paving-stone" }',
            (
                'groups[0].pot.stands_on: "paving-stone" is not one of the choices; did you mean "paving"? use one of: '
                "paving, soil, feet"
            ),
        ),
        (POTS, "pot = { together = 0 }", "groups[0].pot.together: is too small; give 1 or more"),
        (POTS, "pot = { sun = 1.5 }", "groups[0].pot.sun: is too large; give 1 or less"),
        (POTS, "pot = { height_cm = 0 }", "groups[0].pot.height_cm: is too small; give more than 0"),
        (
            lambda text, lines: WALL(text, lines).replace('"wrap"', '"mulch_ring"'),
            "mulch = { depth_cm = 1.5 }",
            "groups[1].mulch.depth_cm: is too small; give 2 or more",
        ),
        (WALL, "pot = { together = 3 }", "groups[1].pot: is for containers only; remove it"),
        (
            POTS,
            'cover = { material = "tarp" }',
            (
                'groups[0].cover: says nothing for a group whose protection is "store"; remove it, or change the '
                "protection to wrap"
            ),
        ),
        (
            WALL,
            "mulch = { depth_cm = 20 }",
            (
                'groups[1].mulch: says nothing for a group whose protection is "wrap"; remove it, or change the '
                "protection to mulch_ring or bend_and_mulch"
            ),
        ),
        (
            WALL,
            'store = { kind = "shed" }',
            (
                'groups[1].store: says nothing for a group whose protection is "wrap"; remove it, or change the '
                "protection to store"
            ),
        ),
        (
            POTS,
            'store = { time_constant = "20" }',
            (
                'groups[0].store.time_constant: "20" is not a length of time; write text from "1h" to "10d", like '
                '"20h" or "2d"'
            ),
        ),
        (
            POTS,
            'store = { sensor = "the cellar" }',
            (
                "groups[0].store.sensor: has characters that do not belong there; write letters, digits, dots, dashes "
                "and underscores, like barn-north"
            ),
        ),
        (
            POTS,
            'store = { sensor = "cellar" }',
            (
                'groups[0].store.sensor: "cellar" can tell nothing: no thermometer is read; add an observations '
                "section with file or push"
            ),
        ),
        (
            POTS,
            "store = { kept_above = 5 }",
            "groups[0].store.kept_above: 5 °F cannot be meant; give 23 to 77 °F, or correct `units`",
        ),
        (POTS, "store = { kept_abov = 5 }", 'groups[0].store.kept_abov: is no known key; did you mean "kept_above"?'),
        (
            POTS,
            "pot = { top_diameter_cm = 13.4, height_cm = 13 }",
            (
                "groups[0].litres: a pot 13.4 cm wide and 13 cm high holds no 25 litres, 1.83 at most; measure again; "
                "pot.top_diameter_cm and pot.height_cm may be left out"
            ),
        ),
        (
            WALL,
            "place = { wall_warmer_by = 5 }",
            (
                "groups[1].place.wall_warmer_by: says nothing without wall_view; add wall_view, about 0.3 close beside "
                "a wall, or remove it"
            ),
        ),
        (
            WALL,
            "place = { wall_view = 0.3, wall_warmer_by = 50 }",
            "groups[1].place.wall_warmer_by: 50 °F cannot be meant; give 0 to 36 °F, or correct `units`",
        ),
        (WALL, "place = { hollow_offset = 3 }", "groups[1].place.hollow_offset: is too large; give 0 or less"),
        (
            WALL,
            "place = { hollow_offset = -40 }",
            "groups[1].place.hollow_offset: -40 °F cannot be meant; give -27 to 0 °F, or correct `units`",
        ),
        (
            WALL,
            "cover = { measured_gain = 50 }",
            "groups[1].cover.measured_gain: 50 °F cannot be meant; give -9 to 45 °F, or correct `units`",
        ),
        (
            POTS,
            "measured = { invented_share = true }",
            "groups[0].measured.invented_share: must be a number; write it without quotes, like 12 or -3.5",
        ),
        (
            POTS,
            "measured = { invented_share = nan }",
            "groups[0].measured.invented_share: must be a finite number; write one like 12 or -3.5",
        ),
        (
            POTS,
            "measured = { invented_shar = 0.4 }",
            'groups[0].measured.invented_shar: is no number of the models; did you mean "invented_share"?',
        ),
        (
            POTS,
            "measured = { zzz = 0.4 }",
            (
                "groups[0].measured.zzz: is no number of the models; remove it; "
                "`alertd schema` names all that can be measured"
            ),
        ),
        (
            POTS,
            'measured = { "In Vented" = 0.4 }',
            (
                'groups[0].measured."…": has characters that do not belong there; '
                "use lower-case letters, digits and underscores, like wind_share"
            ),
        ),
        (
            POTS,
            "measured = { invented_share = 45 }",
            "groups[0].measured.invented_share: 45 cannot be; give 0 to 1; usual is 0.3 to 0.7",
        ),
        (
            POTS,
            "measured = { invented_share = -0.4 }",
            "groups[0].measured.invented_share: -0.4 cannot be; give 0 to 1; usual is 0.3 to 0.7",
        ),
        (
            POTS,
            "measured = { invented_ground = 45 }",
            "groups[0].measured.invented_ground: 45 °C cannot be; give -20 to 25 °C; usual is 2 to 10",
        ),
        (
            POTS,
            "measured = { invented_heat = 4.18 }",
            (
                "groups[0].measured.invented_heat: 4.18 J/(m3.K) cannot be; give 418000 to 4.18e+07 J/(m3.K); "
                "usual is 4.18e+06 to 4.18e+06"
            ),
        ),
        (
            POTS,
            "measured = { invented_offset = 31 }",
            "groups[0].measured.invented_offset: 31 K cannot be; give -30 to 30 K; usual is -1 to 1",
        ),
        (
            POTS,
            "measured = { sun_share = 40 }",
            "groups[0].measured.sun_share: 40 cannot be; give 0 to 1; usual is 0.2 to 0.6",
        ),
        (
            POTS,
            "measured = { water_content = 0.87 }",
            "groups[0].measured.water_content: 0.87 cannot be; give 0.06 to 0.85; usual is 0.27 to 0.43",
        ),
        (
            POTS,
            'pot = { substrate = "mineral_mix" }\nmeasured = { water_content = 0.6 }',
            "groups[0].measured.water_content: 0.6 cannot be; give 0.06 to 0.55; usual is 0.27 to 0.43",
        ),
    ],
)
@pytest.mark.usefixtures("parameters")
def test_each_mistake_is_told_with_its_place_and_how_to_mend_it(problems, valid, put, lines, expected):
    assert problems(put(valid, lines)) == [expected]


def test_a_pot_in_full_shade_and_soaked_peat_are_believed(loaded, valid):
    lines = 'pot = { substrate = "peat" }\nmeasured = { sun_share = 0, water_content = 0.88 }'
    assert loaded(with_pots(valid, lines)).garden.groups[0].overrides == {"sun_share": 0.0, "water_content": 0.88}


def test_a_substrate_that_is_unknown_hides_no_other_mistake(problems, valid):
    lines = 'pot = { substrate = "clay" }\nmeasured = { water_content = 0.87, sun_share = 2 }'
    told = [line.partition(":")[0] for line in problems(with_pots(valid, lines))]
    assert told == ["groups[0].pot.substrate", "groups[0].measured.water_content", "groups[0].measured.sun_share"]


def test_another_thermometer_than_the_one_of_the_file_is_refused_unless_devices_hand_over_values(
    loaded, problems, valid, tmp_path
):
    text = with_pots(valid, 'store = { sensor = "cellar" }') + '[observations]\nfile = "barn.csv"\n'
    assert problems(text) == [
        (
            'groups[0].store.sensor: "cellar" is not the thermometer that writes observations.file; use "thermometer", '
            "or let devices hand over values with observations.push"
        )
    ]
    (tmp_path / "credentials").mkdir()
    (tmp_path / "credentials" / "devices").write_text("a-token-of-devices")
    (tmp_path / "credentials" / "devices").chmod(0o600)
    pushed = loaded(f'{text}push = "127.0.0.1:8790"\npush_token = "devices"\n')
    assert pushed.garden.groups[0].store_room.sensor == "cellar"


def test_a_thermometer_with_a_wrong_name_is_the_only_thing_told(problems, valid):
    text = with_pots(valid, 'store = { sensor = "cellar" }') + '[observations]\nfile = "barn.csv"\nstation = "a b"\n'
    assert [line.partition(":")[0] for line in problems(text)] == ["observations.station"]


def test_a_group_with_an_unknown_protection_hears_of_that_only(problems, valid):
    text = with_wall(valid, "mulch = { depth_cm = 20 }").replace('"wrap"', '"wrab"')
    assert [line.partition(":")[0] for line in problems(text)] == ["groups[1].protection"]


@pytest.mark.parametrize(
    ("size", "litres"), [("top_diameter_cm = 34", 250), ("height_cm = 33", 250), ("height_cm = 33", None)]
)
def test_half_a_size_cannot_contradict_the_litres(loaded, valid, size, litres):
    text = with_pots(valid, f"pot = {{ {size} }}")
    text = text.replace("litres = 25\n", "" if litres is None else f"litres = {litres}\n")
    assert loaded(text).garden.groups[0].container_volume == litres


def test_a_size_without_litres_is_enough(loaded, valid):
    text = with_pots(valid, "pot = { top_diameter_cm = 34, height_cm = 33 }").replace("litres = 25\n", "")
    assert loaded(text).garden.groups[0].pot.top_diameter == 0.34


@pytest.mark.parametrize(
    ("place", "kinds"),
    [
        (("pot", "stands_on"), StandsOn),
        (("pot", "substrate"), Substrate),
        (("pot", "wetness"), Wetness),
        (("pot", "insulation"), Insulation),
        (("cover", "material"), CoverMaterial),
        (("cover", "fill"), CoverFill),
        (("mulch", "material"), MulchMaterial),
        (("store", "kind"), StoreKind),
    ],
)
def test_the_choices_are_those_of_the_models(place, kinds):
    assert list(get_args(annotation_at(Document, ("groups", 0, *place)))) == [kind.value for kind in kinds]


def test_the_schema_names_each_number_with_its_unit_and_what_is_used_otherwise():
    schema = measured_schema({parameter.name: parameter for parameter in (SHARE, EXACT)})
    assert schema["properties"] == {
        "invented_share": {
            "type": "number",
            "minimum": 0.0,
            "maximum": 1.0,
            "description": "an invented share; built in: 0.5 (0.3 to 0.7), assumed",
        },
        "invented_heat": {
            "type": "number",
            "minimum": 4.18e5,
            "maximum": 4.18e7,
            "description": "an invented heat; built in: 4.18e+06 J/(m3.K), from memory",
        },
    }
    (ground,) = measured_schema({GROUND.name: GROUND})["properties"].values()
    assert ground["description"] == "an invented temperature; built in: 6 (2 to 10) °C, assumed"
    jsonschema.validate({"invented_share": 0.4}, schema, cls=jsonschema.Draft202012Validator)
    unbounded = Parameter("invented_drift", 0.0, -1.0, 1.0, "m/s", "an invented drift", "assumed")
    assert set(measured_schema({"invented_drift": unbounded})["properties"]["invented_drift"]) == {
        "type",
        "description",
    }
    for wrong in ({"invented_shar": 0.4}, {"invented_share": "much"}, {"invented_share": 40}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, schema, cls=jsonschema.Draft202012Validator)


def test_rules_that_judge_by_models_speak_unless_told_otherwise(loaded, valid):
    rules = loaded(valid).garden.rules
    of_models = (rules.root_zone, rules.wood_temperature, rules.bud_temperature, rules.store_room)
    assert of_models == (RuleSettings(),) * 4
    assert all(rule.enabled for rule in of_models)
    assert rules.root_share == 0.2
    text = valid + "[rules.root_zone]\nshare = 0.1\nmargin = 1.8\n[rules.store_room]\nenabled = false\n"
    changed = loaded(text).garden.rules
    assert (changed.root_share, changed.root_zone.margin) == (0.1, 1.0)
    assert not changed.store_room.enabled


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ("[rules.root_zone]\nshare = 1", "rules.root_zone.share: is too large; give less than 1"),
        ("[rules.root_zone]\nshare = 0", "rules.root_zone.share: is too small; give more than 0"),
        (
            "[rules.bud_temperature]\nprobability_open = 0.05",
            (
                "rules.bud_temperature.probability_open: the closing probability 0.1 is above the opening one 0.05; "
                "close at or below the opening probability"
            ),
        ),
        (
            "[rules.wood_temperature]\nmargin = 20",
            "rules.wood_temperature.margin: 20 °F cannot be meant; give -18 to 18 °F, or correct `units`",
        ),
        (
            "[classes.fig]\nroot_zone = 60",
            "classes.fig.root_zone: 60 °F cannot be meant; give -22 to 41 °F, or correct `units`",
        ),
    ],
)
def test_numbers_of_these_rules_that_cannot_be_are_told(problems, valid, lines, expected):
    assert problems(f"{valid}{lines}\n") == [expected]


def test_what_is_told_of_a_class_without_a_root_zone_is_what_is_judged():
    limit = root_zone_limit(HardinessClass("own", -10.0, None, -1.0, "own value")).temperature
    assert limit == -5.0
    told = description_at(Document, ("classes", "own", "root_zone"))
    assert told.endswith("left out in an own class, -5 °C (23 °F), as for figs, assumed.")


def test_a_class_may_say_what_the_root_ball_itself_stands(loaded, valid):
    classes = loaded(valid + "[classes.fig]\nroot_zone = 25\n").garden.classes
    assert classes["fig"].root_zone == (25 - 32) / 1.8
    assert classes["fig"].provenance.startswith("root_zone: own value. Otherwise as built in: ")
    assert classes["seedling"].root_zone is None
    own = loaded(valid.replace("wood = 14", "wood = 14\nroot_zone = 24")).garden.classes["seedling"]
    assert own.root_zone == (24 - 32) / 1.8
