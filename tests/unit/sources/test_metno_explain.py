import pytest

from alertd.sources.metno import explain_failure


def test_a_web_page_becomes_its_words():
    head = b"<html><head><style>p {color: red}</style></head>"
    page = head + b"<body><h1>403 Forbidden</h1>\n<p>Bad&amp;ugly</p></body></html>"
    assert explain_failure(403, {}, page) == (
        "it answers 403: it refuses this client; give a real mail address as contact of the site "
        "(403 Forbidden Bad&ugly)"
    )


def test_plain_text_is_repeated_shortened_in_one_line():
    text = explain_failure(400, {}, b"Mandatory parameters 'lat', 'lon' missing in call\n" + b"to x " * 1000)
    assert text.startswith("it answers 400: it does not understand the request; check latitude")
    assert "(Mandatory parameters 'lat', 'lon' missing in call to x" in text
    assert len(text) < 300
    assert "\n" not in text


def test_the_class_of_the_error_is_repeated_whatever_the_case_of_its_header():
    assert explain_failure(429, {"ErrorClass": "Throttled"}, b"").endswith("(Throttled)")


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (404, "no forecast for this place"),
        (422, "outside its area"),
        (418, "it gives no forecast"),
        (502, "asked again"),
    ],
)
def test_every_status_has_a_meaning(status, words):
    assert words in explain_failure(status, {}, b"")


def test_control_characters_and_bytes_that_are_no_text_do_no_harm():
    text = explain_failure(500, {}, b"\x1b[31mred\x00\xff\xfe\r\n")
    assert text.isprintable()
