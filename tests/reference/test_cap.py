"""CAP tokens against the standard's schema.

OASIS, Common Alerting Protocol Version 1.2, 1 July 2010, CAP-v1.2.xsd: the enumerations of the elements
msgType, responseType, urgency, severity and certainty, copied here in the schema's order.
"""

import pytest

from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency

SCHEMA = {
    MessageType: ["Alert", "Update", "Cancel", "Ack", "Error"],
    ResponseType: ["Shelter", "Evacuate", "Prepare", "Execute", "Avoid", "Monitor", "Assess", "AllClear", "None"],
    Urgency: ["Immediate", "Expected", "Future", "Past", "Unknown"],
    Severity: ["Extreme", "Severe", "Moderate", "Minor", "Unknown"],
    Certainty: ["Observed", "Likely", "Possible", "Unlikely", "Unknown"],
}


@pytest.mark.parametrize("tokens", SCHEMA, ids=lambda tokens: tokens.__name__)
def test_every_token_is_spelled_as_in_the_schema(tokens):
    assert [token.value for token in tokens if token.value not in SCHEMA[tokens]] == []


@pytest.mark.parametrize("tokens", [Urgency, Severity, Certainty], ids=lambda tokens: tokens.__name__)
def test_the_three_scales_are_complete_and_in_the_schemas_order(tokens):
    assert [token.value for token in tokens] == SCHEMA[tokens]


def test_names_of_tokens_follow_from_their_spelling():
    for tokens in SCHEMA:
        for token in tokens:
            assert token.name.replace("_", "").lower() == token.value.lower()
