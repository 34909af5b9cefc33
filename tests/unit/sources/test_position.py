import pytest

from alertd.sources.position import coordinate_text, great_circle_distance


@pytest.mark.parametrize(
    ("coordinate", "text"),
    [
        (47.01239, "47.0123"),
        (-91.45679, "-91.4567"),
        (10.0, "10"),
        (180, "180"),
        (-0.00009, "0"),
        (5e-324, "0"),
        (0.5, "0.5"),
    ],
)
def test_coordinates_are_cut_to_four_decimals_without_trailing_zeros(coordinate, text):
    assert coordinate_text(coordinate) == text


def test_a_degree_of_latitude_is_111_km():
    # 10 001.966 km from pole to equator on the meridian (WGS 84, from memory), a ninetieth of it.
    assert great_circle_distance(45.0, 7.0, 46.0, 7.0) == pytest.approx(10_001_966 / 90, rel=0.002)


def test_at_a_pole_all_longitudes_are_one_place():
    assert great_circle_distance(90.0, 0.0, 90.0, 137.0) == pytest.approx(0.0, abs=1e-3)


def test_opposite_places_are_half_the_circumference_apart():
    assert great_circle_distance(30.0, 20.0, -30.0, -160.0) == pytest.approx(20_015_115, rel=1e-6)
