import pytest

from alertd.core import (
    AlertdError,
    AuditError,
    ConfigurationError,
    Problem,
    ReportError,
    SourceError,
    SourceMalformed,
    SourceUnavailable,
    StoreError,
    StoreTooNew,
)


def test_a_configuration_error_holds_every_problem_and_says_each_on_its_line():
    problems = [
        Problem("groups[2].class", "there is no class 'palm'", "use one of fig, temperate"),
        Problem("site.latitude", "140 is no latitude", "give degrees from -90 to 90"),
    ]
    error = ConfigurationError(problems)
    assert error.problems == tuple(problems)
    assert str(error).splitlines() == [
        "groups[2].class: there is no class 'palm'; use one of fig, temperate",
        "site.latitude: 140 is no latitude; give degrees from -90 to 90",
    ]


@pytest.mark.parametrize(
    ("error", "base"),
    [
        (SourceUnavailable, SourceError),
        (SourceMalformed, SourceError),
        (StoreTooNew, StoreError),
        (SourceError, AlertdError),
        (StoreError, AlertdError),
        (AuditError, AlertdError),
        (ReportError, AlertdError),
        (ConfigurationError, AlertdError),
    ],
)
def test_errors_stand_in_one_tree(error, base):
    assert issubclass(error, base)
    assert not issubclass(AlertdError, ValueError)
