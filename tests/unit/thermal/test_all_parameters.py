import re

from alertd.thermal.all_parameters import ALL_PARAMETERS, KNOWN_PARAMETERS


def test_every_parameter_has_a_name_of_its_own_that_the_configuration_can_spell():
    assert len(KNOWN_PARAMETERS) == len(ALL_PARAMETERS)
    for parameter in ALL_PARAMETERS:
        assert KNOWN_PARAMETERS[parameter.name] is parameter
        assert re.fullmatch(r"[a-z][a-z0-9_]{0,59}", parameter.name)


def test_every_parameter_says_what_it_is_in_what_unit_and_where_it_comes_from():
    for parameter in ALL_PARAMETERS:
        assert parameter.unit
        assert parameter.meaning
        assert parameter.provenance
