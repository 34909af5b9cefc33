from itertools import pairwise

from alertd.core import Severity


def test_severities_have_an_order_from_unknown_to_extreme():
    order = [Severity.UNKNOWN, Severity.MINOR, Severity.MODERATE, Severity.SEVERE, Severity.EXTREME]
    assert set(order) == set(Severity)
    assert all(low.rank < high.rank for low, high in pairwise(order))
    assert order[0].rank == 0
