"""What waits for its reader, until when, and what is so by then."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest

from alertd.messages import Reader
from alertd.site import QuietHours, WorkHours
from tests.fakes.garden import FIGS, POTS, local, make_series, nights
from tests.fakes.household import HOUR, Household

MONDAY = date(2026, 1, 19)
NIGHT = QuietHours(time(22), time(6, 30))
ANN = Reader("Ann", quiet_hours=NIGHT)
BO = Reader("Bo", frozenset({"figs"}))


def week(*lows):
    return nights(MONDAY, [*lows, *[0.0] * (9 - len(lows))])


def home(*readers, now="2026-01-19 12:00", groups=(POTS,), **changes):
    return Household(readers or (ANN,), local(now), groups, changes)


def told(household, name="Ann"):
    """Return the day, local time and subject of each letter to one reader."""
    site = household.garden.site
    return [f"{site.local(each.composed):%a %H:%M} {each.subject}" for each in household.letters_to(name)]


def plain(letter):
    """Return the text of a letter as one line with plain spaces."""
    return " ".join(letter.text.split())


def run(household, end, *weather):
    household.run_until(local(end))
    for each in weather:
        household.forecast(each)


# ---- quiet hours ----


def test_a_letter_waits_for_the_end_of_the_quiet_hours_and_others_do_not():
    with home(ANN, Reader("Cem")) as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10", week(0.0, 0.0, -11.0))
        run(house, "2026-01-20 12:00")
        text = "Get ready to move the patio pots into store, start by 16:10"
        assert told(house) == [f"Tue 06:30 {text} tomorrow"]
        assert told(house, "Cem") == [f"Mon 23:10 {text} on Wed 21 Jan"]


def test_what_is_called_off_before_it_was_told_is_not_told():
    with home() as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10", week(0.0, 0.0, -11.0))
        run(house, "2026-01-20 03:10", week())
        run(house, "2026-01-21 12:00")
        assert told(house) == []


def test_what_was_told_before_the_night_is_told_to_be_over_after_it():
    with home() as house:
        house.forecast(week(0.0, 0.0, -11.0))
        run(house, "2026-01-19 23:10", week())
        assert [each.subject for each in house.letters] == [
            "Get ready to move the patio pots into store, start by 16:10 on Wed 21 Jan"
        ]
        run(house, "2026-01-20 12:00")
        assert told(house)[1:] == ["Tue 06:30 No need to move the patio pots into store"]


def test_changes_of_one_night_are_told_once_against_what_the_reader_has_read():
    with home() as house:
        house.forecast(week(0.0, 0.0, -10.5))
        run(house, "2026-01-19 23:10", week(0.0, 0.0, -12.0))
        run(house, "2026-01-20 02:10", week(0.0, 0.0, -13.5))
        run(house, "2026-01-20 12:00")
        first, second = house.letters
        assert second.subject.startswith("More severe than told: get ready to move")
        assert "colder (-14 °C instead of -10 °C)" in plain(second)
        assert first.reference != second.reference


def test_what_went_and_came_back_in_one_night_is_not_told():
    with home() as house:
        house.forecast(week(0.0, 0.0, -10.5))
        run(house, "2026-01-20 18:00")  # called for now
        assert len(house.letters) == 2
        run(house, "2026-01-20 23:10", week(0.0, 0.0, 0.0, -10.5))  # postponed by a day
        house.now += HOUR
        house.forecast(week(0.0, 0.0, -10.5))  # and not
        kinds = [n.kind.value for n in house.watch.assess(house.now).notices]
        assert kinds == []
        run(house, "2026-01-21 12:00")
        assert told(house)[2:] == []


def test_severe_work_is_told_at_any_hour_and_takes_along_what_waits():
    with home(groups=(POTS, FIGS)) as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10", week(0.0, 0.0, 0.0, -10.5))
        assert house.letters == []
        run(house, "2026-01-20 01:10", week(-19.0, 0.0, 0.0, -10.5))
        (letter,) = house.letters
        assert house.garden.site.local(letter.composed).hour == 1
        assert "This comes in your quiet hours because the cold is severe and there is something to do." in letter.text
        assert letter.threads == ("figs-2026-01-20", "pots-2026-01-22")
        assert "in your quiet hours because" in letter.html


def test_work_that_must_begin_before_the_quiet_hours_end_wakes_half_an_hour_before():
    hours = WorkHours(earliest=time(4), latest=time(20), daylight_only=False)
    with home(Reader("Ann", quiet_hours=QuietHours(time(22), time(8))), work=hours) as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10")
        house.service.series = frost_from("2026-01-20 08:00", -10.5)
        house.look()
        assert house.letters == []
        run(house, "2026-01-20 09:00")
        assert told(house)[0] == "Tue 06:30 Move the patio pots into store, start by 07:00 today"
        assert "because it would be too late at their end" in house.letters[0].text
        assert told(house)[1:] == ["Tue 07:00 Last call: move the patio pots into store, start now"]


def test_whoever_knows_of_the_work_is_woken_at_the_last_call_only():
    hours = WorkHours(earliest=time(4), latest=time(20), daylight_only=False)
    with home(Reader("Ann", quiet_hours=QuietHours(time(22), time(8))), work=hours) as house:
        house.forecast(frost_from("2026-01-20 08:00", -10.5))
        run(house, "2026-01-20 09:00")
        assert told(house) == [
            "Mon 12:00 Get ready to move the patio pots into store, start by 07:00 tomorrow",
            "Mon 20:00 Move the patio pots into store, start by 07:00 tomorrow",
            "Tue 07:00 Last call: move the patio pots into store, start now",
        ]


def test_work_that_is_called_off_in_the_night_is_told_before_anybody_sets_out():
    hours = WorkHours(earliest=time(4), latest=time(20), daylight_only=False)
    with home(Reader("Ann", quiet_hours=QuietHours(time(22), time(8))), work=hours) as house:
        house.forecast(frost_from("2026-01-20 08:00", -10.5))
        run(house, "2026-01-20 02:10", week())
        run(house, "2026-01-20 09:00")
        assert told(house)[2:] == ["Tue 07:00 No need to move the patio pots into store"]


def test_a_reminder_that_falls_into_quiet_hours_is_given_at_their_end_if_that_is_early_enough():
    hours = WorkHours(earliest=time(4), latest=time(20), daylight_only=False)
    with home(Reader("Ann", quiet_hours=QuietHours(time(22), time(6))), work=hours) as house:
        house.forecast(frost_from("2026-01-20 08:30", -10.5))
        run(house, "2026-01-20 09:00")
        assert told(house)[2:] == [
            "Tue 06:00 Still to do: move the patio pots into store, start by 08:00 today",
            "Tue 08:00 Last call: move the patio pots into store, start now",
        ]


def frost_from(start, low):
    """Return a mild week with one cold day from an instant on."""
    first = local("2026-01-19 00:00")
    begin = local(start)
    hours = [first + HOUR * hour for hour in range(240)]
    return make_series(first, [low if begin <= at < begin + 20 * HOUR or at == begin else 4.0 for at in hours])


def test_work_done_by_another_in_the_same_night_is_told_to_nobody_who_slept():
    with home(ANN, Reader("Cem")) as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10", week(0.0, -10.5))
        (alert,) = {letter.threads for letter in house.letters}
        house.done(*alert)
        run(house, "2026-01-23 12:00")
        assert told(house) == []
        assert len(told(house, "Cem")) == 2


def test_a_blind_watch_is_told_in_the_morning_and_not_at_all_if_it_sees_again():
    with home() as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10", None)
        house.watch._last_good.clear()
        run(house, "2026-01-20 01:10")
        run(house, "2026-01-20 04:10", week())
        run(house, "2026-01-20 12:00")
        assert told(house) == []
        house.watch._last_good.clear()
        run(house, "2026-01-20 23:10", None)
        house.watch._last_good.clear()
        run(house, "2026-01-21 06:30")
        assert told(house) == ["Wed 06:30 The watch is blind: read a forecast yourself"]


def test_nothing_that_waits_is_lost_or_told_twice_by_restarts():
    with home() as house:
        house.forecast(week())
        run(house, "2026-01-19 23:10", week(0.0, 0.0, -11.0))
        for hour in range(9):
            house.start()
            run(house, f"2026-01-20 {hour:02d}:05")
        house.start()
        run(house, "2026-01-20 12:00")
        assert [each[:9] for each in told(house)] == ["Tue 06:30"]


# ---- who knows what ----


def test_a_reader_who_comes_later_is_told_of_what_is_open():
    with home(ANN) as house:
        house.forecast(week(0.0, 0.0, -11.0))
        house.readers = (ANN, Reader("Cem"))
        house.start()
        house.now += HOUR
        assert [each.recipient for each in house.look()] == ["Cem"]
        assert house.look() == []


def test_a_database_that_kept_no_such_memory_repeats_nothing():
    with home(ANN) as house:
        house.forecast(week(0.0, 0.0, -11.0))
        house.store._connection.execute("DELETE FROM meta WHERE key LIKE 'note:correspondence:%'")
        house.start()
        assert house.look() == []
        run(house, "2026-01-19 16:00", week())
        assert told(house)[1:] == ["Mon 16:00 No need to move the patio pots into store"]


def test_a_spoilt_memory_tells_again_rather_than_never():
    with home(ANN) as house:
        house.forecast(week(0.0, 0.0, -11.0))
        house.store.set_note("correspondence:Ann", "{")
        assert len(house.look()) == 1


def test_a_reader_taken_off_a_group_is_told_the_end_and_nothing_else():
    with home(replace(BO, groups=frozenset({"pots"})), groups=(POTS, FIGS)) as house:
        house.forecast(week(0.0, 0.0, -10.5))
        house.readers = (BO,)
        house.start()
        run(house, "2026-01-21 18:00")
        assert len(house.letters) == 1
        house.done("pots")
        house.look()
        assert told(house, "Bo")[1:] == ["Wed 18:00 Taken care of: move the patio pots into store"]


# ---- digest ----

DAY = Reader("Ann", digest=time(7))


def test_the_digest_comes_once_a_day_also_when_nothing_is_open():
    with home(DAY) as house:
        house.forecast(week())
        assert house.letters == []
        run(house, "2026-01-22 12:00")
        assert told(house) == [
            f"{day} 07:00 {day} {number} Jan: nothing to do; coldest 0 °C tonight"
            for day, number in (("Tue", 20), ("Wed", 21), ("Thu", 22))
        ]
        text = house.letters[0].text
        assert "Nothing is open.\n" in text
        assert "- the patio pots: outside\n" in text
        assert "Forecast: north, made 07:00 today" in text
        assert "Record " in text
        assert house.letters[0].response_type == "None"


def test_a_digest_that_is_wanted_only_with_open_matters_stays_away_on_calm_days():
    with home(replace(DAY, digest_when_calm=False)) as house:
        house.forecast(week())
        run(house, "2026-01-20 12:00")
        assert house.letters == []
        house.forecast(week(0.0, 0.0, 0.0, -10.5))
        run(house, "2026-01-21 12:00")
        assert told(house)[1:] == [
            (
                "Wed 07:00 Wed 21 Jan: get ready to move the patio pots into store, start by 16:10 tomorrow; "
                "coldest -10 °C tomorrow night"
            )
        ]
        assert house.letters[-1].response_type == "Monitor"


def test_what_does_not_press_is_left_to_the_digest():
    with home(DAY) as house:
        house.forecast(week(0.0, 0.0, -10.5))
        run(house, "2026-01-19 15:00", week(0.0, 0.0, -10.5 - 1.2))  # colder, and not more severe
        run(house, "2026-01-19 19:00", week())
        run(house, "2026-01-20 12:00")
        assert told(house) == [
            "Mon 12:00 Get ready to move the patio pots into store, start by 16:10 on Wed 21 Jan",
            "Tue 07:00 Tue 20 Jan: nothing to do; coldest 0 °C tonight",
        ]
        assert "1. No need to move the patio pots into store" in house.letters[1].text
        assert house.letters[1].short.endswith("coldest 0 °C tonight. No need to move the patio pots into store")


def test_the_all_clear_waits_for_the_digest_and_what_presses_does_not():
    with home(DAY, Reader("Cem")) as house:
        house.forecast(week(-10.5))
        run(house, "2026-01-19 17:00")
        run(house, "2026-01-22 12:00")
        assert told(house)[1:3] == [
            "Mon 14:00 Still to do: move the patio pots into store, start by 16:00 today",
            "Mon 16:00 Last call: move the patio pots into store, start now",
        ]
        assert told(house)[-1] == "Thu 07:00 Thu 22 Jan: nothing to do; coldest 0 °C tonight"
        assert (
            told(house)[3] == "Tue 07:00 Move the patio pots into store: the cold has passed, nobody reported it done"
        )
        assert told(house, "Cem")[-1].startswith("Tue 07:00 Move the patio pots into store: the cold has passed")


def test_the_digest_names_what_is_open_in_the_order_of_its_latest_start():
    with home(DAY, groups=(POTS, FIGS, replace(FIGS, group_id="north", name="the north figs"))) as house:
        house.forecast(week(0.0, 0.0, -15.0))
        house.done("north-2026-01-21", declined=True)
        house.done("pots")
        run(house, "2026-01-20 07:00")
        letter = house.letters[-1]
        text = letter.text.replace("\N{NO-BREAK SPACE}", " ").replace("\n  ", " ")
        lines = [line for line in text[text.index("Open:") :].splitlines() if line.startswith("- ")][:3]
        assert lines[0].startswith("- Get ready to wrap the south figs, start by ")
        assert lines[0].endswith("Done: alertd done figs-2026-01-21")
        assert lines[1].startswith("- Wrap the north figs: set aside. Lowest -15 °C between")
        assert lines[2].startswith("- Move the patio pots into store: done. Lowest -15 °C between")
        assert "<li>Get ready to wrap the south figs" in letter.html
        assert "% that it hurts the south figs as they stand (1 more at risk)" in plain(letter)


def test_the_digest_tells_the_cold_as_the_forecast_has_it_now_and_as_it_was_told_where_it_cannot_be_seen():
    with home(DAY) as house:
        house.forecast(week(0.0, 0.0, -14.0))
        run(house, "2026-01-19 16:00", week(0.0, 0.0, -13.0))
        run(house, "2026-01-20 07:00")
        assert "Lowest -13 °C between" in plain(house.letters[-1])
        assert "Lowest -14" not in plain(house.letters[-1])
        house.watch._last_good.clear()
        house.forecast(None)
        run(house, "2026-01-21 07:00")
        assert "Lowest -14 °C between" in plain(house.letters[-1])


def test_a_blind_digest_says_that_the_nights_cannot_be_seen():
    with home(DAY) as house:
        run(house, "2026-01-20 07:00")
        assert told(house)[-1] == "Tue 07:00 Tue 20 Jan: the watch is blind, read a forecast yourself"
        assert "The nights ahead cannot be seen: no usable forecast is left." in house.letters[-1].text
        assert "The nights ahead cannot be seen" in house.letters[-1].html


def test_a_digest_that_was_missed_in_an_outage_waits_for_the_end_of_quiet_hours():
    reader = replace(DAY, quiet_hours=NIGHT, digest=time(21))
    with home(reader) as house:
        house.forecast(week())
        house.now = local("2026-01-20 02:00")  # the machine was off
        house.start()
        run(house, "2026-01-20 12:00")
        assert [each[:9] for each in told(house)] == ["Tue 06:30"]
        run(house, "2026-01-20 22:00")
        assert [each[:9] for each in told(house)] == ["Tue 06:30", "Tue 21:00"]


def test_work_under_way_or_late_is_said_so_in_the_digest():
    with home(replace(DAY, digest=time(20))) as house:
        house.forecast(week(-10.5))
        run(house, "2026-01-19 20:30")
        assert "move the patio pots into store, it was to begin by 16:00 today" in told(house)[-1]


def test_work_that_is_called_for_is_what_comes_next():
    with home(DAY) as house:
        house.forecast(week(0.0, -10.5))
        run(house, "2026-01-20 08:00")
        assert told(house)[-1] == (
            "Tue 07:00 Tue 20 Jan: move the patio pots into store, start by 16:00 today; coldest -10 °C tonight"
        )
        assert "Next: move the patio pots into store, start by 16:00 today.\n" in house.letters[-1].text


def test_invitations_of_spring_wait_for_the_digest():
    spring = nights(date(2026, 5, 1), [8.0] * 12, by_day=15.0)
    with home(DAY, now="2026-05-01 12:00", groups=(FIGS,)) as house:
        house.mark("figs", "in-place")
        house.forecast(spring)
        assert house.letters == []
        run(house, "2026-05-02 12:00")
        assert told(house) == ["Sat 07:00 Sat 2 May: you can open the covers of the south figs; coldest 8 °C tonight"]
        assert house.letters[0].text.startswith(
            "Hillside, Sat 2 May 07:00\n\n1. You can open the covers of the south figs now\n"
        )
        run(house, "2026-05-03 12:00")
        assert "- You can open the covers of the south figs. Done: alertd done figs-2026-05-01" in plain(
            house.letters[1]
        )


def test_a_digest_after_midnight_begins_with_the_night_that_is_on():
    with home(replace(DAY, digest=time(1)), groups=(replace(POTS, group_id="pots"),)) as house:
        house.mark("pots", "in-store")
        house.forecast(week(-3.0))
        run(house, "2026-01-20 01:30")
        assert "- This night: lowest -3 °C, nothing of yours stands where it could be hurt. " in plain(
            house.letters[-1]
        )


@pytest.mark.parametrize("step", [HOUR, -HOUR])
def test_clocks_that_are_set_bring_no_digest_twice_and_lose_none(step):
    with home(DAY) as house:
        house.forecast(week())
        for day in ("20", "21", "22"):
            run(house, f"2026-01-{day} 06:40")
            house.now += step
            house.looked = None
            run(house, f"2026-01-{day} 08:00") if step > timedelta(0) else run(house, f"2026-01-{day} 07:20")
            house.now -= HOUR
            house.looked = None
            run(house, f"2026-01-{day} 09:00")
        assert len(house.letters) == 3
        days = [house.garden.site.local(each.composed).day for each in house.letters]
        assert days == [20, 21, 22]


def test_what_was_answered_while_a_change_waited_needs_no_more_words():
    with home(ANN, Reader("Cem")) as house:
        house.forecast(week(0.0, 0.0, -10.5))
        run(house, "2026-01-19 23:10", week(0.0, 0.0, -16.0))
        assert told(house, "Cem")[1:] == [
            "Mon 23:10 More severe than told: get ready to move the patio pots into store, start by 16:10 on Wed 21 Jan"
        ]
        house.done("pots")
        run(house, "2026-01-20 12:00")
        assert told(house)[1:] == []


def test_work_that_is_undone_in_the_night_is_called_for_again_in_the_morning():
    with home() as house:
        house.forecast(week(0.0, -10.5))
        run(house, "2026-01-19 20:00")
        house.done("pots")
        run(house, "2026-01-19 23:10")
        house.mark("pots", "off")
        run(house, "2026-01-20 12:00")
        assert told(house)[-1] == "Tue 06:30 Move the patio pots into store, start by 16:00 today"
        assert [each[:9] for each in told(house)] == ["Mon 12:00", "Mon 18:00", "Tue 06:30"]


def test_a_change_of_work_that_was_called_for_is_told_as_such_after_the_night():
    with home() as house:
        house.forecast(week(0.0, -10.5))
        run(house, "2026-01-19 23:10", week(0.0, -11.7))
        run(house, "2026-01-20 12:00")
        assert told(house)[-1] == "Tue 06:30 Colder than told: move the patio pots into store, start by 16:00 today"


def test_the_digest_of_a_group_without_a_latest_start_in_the_forecast_tells_the_rest():
    with home(DAY) as house:
        house.forecast(week(0.0, 0.0, -10.5))
        house.forecast(nights(MONDAY, [0.0, 0.0, -10.5]))
        run(house, "2026-01-20 07:30")
        nights_told = house.letters[-1].text.split("Nights ahead:\n")[1].split("\n\n")[0].splitlines()
        assert [line.split(":")[0] for line in nights_told] == ["- Tonight", "- Tomorrow night"]
