import pytest

from alertd.hardiness import BUILT_IN_CLASSES, HardinessClass


def test_names_are_unique():
    names = [each.name for each in BUILT_IN_CLASSES]
    assert len(names) == len(set(names)) == 7


@pytest.mark.parametrize("each", BUILT_IN_CLASSES, ids=lambda each: each.name)
def test_growth_stands_less_cold_than_wood_and_roots_less_than_wood(each):
    assert each.wood < each.spring_limit <= 0.0
    if each.name != "tender_evergreen":  # its roots are assumed a little hardier than its tops
        assert each.roots is None or each.wood < each.roots


@pytest.mark.parametrize("each", BUILT_IN_CLASSES, ids=lambda each: each.name)
def test_roots_themselves_stand_no_colder_than_the_air_that_endangers_them_in_a_pot(each):
    assert each.root_zone is not None
    assert each.root_zone < 0.0
    if each.roots is not None:
        assert each.root_zone >= each.roots


def test_a_class_says_nothing_of_the_root_zone_unless_told():
    assert HardinessClass("a", -1.0, None, 0.0, "assumed").root_zone is None


def test_a_class_is_a_value_that_cannot_be_changed_by_accident():
    with pytest.raises(AttributeError):
        BUILT_IN_CLASSES[0].wood = 0.0
    assert HardinessClass("a", -1.0, None, 0.0, "assumed") == HardinessClass("a", -1.0, None, 0.0, "assumed")
