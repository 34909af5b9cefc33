"""Members that are alike."""

from __future__ import annotations

import numpy as np

from alertd.thermal.alike import alike, picked


def test_each_kind_of_member_is_found_once_and_stands_for_all_like_it():
    fields = np.array([[1.0, 2.0], [1.0, 3.0], [1.0, 2.0], [0.0, 2.0]])
    different, of_all = alike(fields, members=4)
    assert len(different) == 3
    np.testing.assert_array_equal(fields[different][of_all], fields)


def test_members_that_differ_in_any_field_are_not_alike():
    one, other = np.array([1.0, 1.0, 2.0]), np.array([5.0, 6.0, 5.0])
    assert len(alike(one, 3.0, members=3)[0]) == 2
    assert len(alike(one, other, members=3)[0]) == 3


def test_where_nothing_differs_one_stands_for_all():
    for fields in ((), (4.0,), (np.array([4.0]),), (np.zeros((3, 0)),)):
        different, of_all = alike(*fields, members=3)
        assert different.tolist() == [0]
        assert of_all.tolist() == [0, 0, 0]


def test_numbers_are_picked_by_member_unless_there_is_one_for_all():
    rows = np.array([2, 0])
    assert picked(np.array([1.0, 2.0, 3.0]), rows, 3).tolist() == [3.0, 1.0]
    assert picked(7.0, rows, 3) == 7.0
    assert picked(np.array([7.0]), rows, 3).tolist() == [7.0]
