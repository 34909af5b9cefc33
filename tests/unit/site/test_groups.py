import pytest

from alertd.site import Condition, Cover, Stage
from tests.fakes.garden import local, make_site

WINTER = local("2026-01-10 12:00")
MIDSUMMER = local("2026-07-24 00:00")


def test_a_report_holds_until_midsummer_and_no_longer():
    condition = Condition(Cover.IN_PLACE, Stage.BUDBREAK, WINTER, WINTER)
    assert condition.in_season(make_site(), local("2026-07-23 23:59")) == condition
    assert condition.in_season(make_site(), MIDSUMMER) == Condition()


def test_cover_and_stage_are_forgotten_each_by_its_own_date():
    covered = Condition(Cover.IN_PLACE, Stage.BUDBREAK, MIDSUMMER, WINTER)
    assert covered.in_season(make_site(), MIDSUMMER) == Condition(Cover.IN_PLACE, Stage.DORMANT, MIDSUMMER, None)
    growing = Condition(Cover.IN_PLACE, Stage.BUDBREAK, WINTER, MIDSUMMER)
    assert growing.in_season(make_site(), MIDSUMMER) == Condition(Cover.OFF, Stage.BUDBREAK, None, MIDSUMMER)


def test_a_condition_without_dates_is_kept():
    assert Condition(cover=Cover.OPENED).in_season(make_site(), MIDSUMMER) == Condition(cover=Cover.OPENED)


@pytest.mark.parametrize(
    ("condition", "is_in_growth"),
    [
        (Condition(), False),
        (Condition(cover=Cover.IN_PLACE), False),
        (Condition(cover=Cover.OPENED), True),
        (Condition(cover=Cover.LIFTED), True),
        (Condition(stage=Stage.BUDBREAK), True),
        (Condition(cover=Cover.IN_PLACE, stage=Stage.BUDBREAK), True),
    ],
)
def test_a_group_has_woken_when_buds_moved_or_its_cover_came_off(condition, is_in_growth):
    assert condition.is_in_growth == is_in_growth
