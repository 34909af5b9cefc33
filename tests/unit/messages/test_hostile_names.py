"""Names that try to be programs stay names."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from jinja2.exceptions import SecurityError

from alertd.messages import Reader, letter_for_test
from alertd.messages.compose import _environment
from tests.fakes.garden import POTS, Keeper, local, make_garden, nights
from tests.fakes.letters import letters_of

TUESDAY = local("2026-01-20 08:00")
HOSTILE = [
    "{{ 7 * 191 }}",
    "{% for each in range(3) %}x{% endfor %}",
    "{{ ''.__class__.__mro__[1].__subclasses__() }}",
    "{name.__class__} {0} %s %(name)s ${HOME}",
    "<script>alert(1)</script>",
    "\N{RIGHT-TO-LEFT OVERRIDE}stop",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_the_name_of_a_group_a_site_or_a_source_is_never_run(name):
    garden = make_garden(replace(POTS, name=name))
    garden = replace(garden, site=replace(garden.site, name=name))
    weather = nights(date(2026, 1, 20), [0.0, -14.0, *[0.0] * 6])
    (letter,) = letters_of(Keeper(garden).look(TUESDAY, weather), garden, Reader(name))
    assert name in letter.subject
    assert letter.text.count(name) >= 2
    assert "1337" not in letter.text + letter.html + letter.short
    assert "<script>" not in letter.html
    test_letter = letter_for_test(garden, Reader(name), TUESDAY, "17:0123abcd")
    assert name in test_letter.text
    assert "<script>" not in test_letter.html


@pytest.mark.parametrize(
    "template", ["{{ ''.__class__.__mro__ }}", "{{ text.format.__globals__ }}", "{{ texts.append(1) }}"]
)
def test_even_a_template_reaches_nothing_but_what_it_is_given(template):
    with pytest.raises(SecurityError):
        _environment.from_string(template).render(text="a", texts=[])
