import pytest

from alertd.sources.observations import PushSettings, RateLimit

TOKEN = "canary-0123456789abcdef"


@pytest.mark.parametrize("address", ["127.0.0.1", "::1", "192.168.4.1", "10.1.2.3", "fe80::1", "fd00::7"])
def test_addresses_of_private_networks_are_fine(address):
    assert PushSettings(address, 0, TOKEN).address == address


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "8.8.8.8", "2001:4860:4860::8888"])
def test_an_address_open_to_the_world_is_refused(address):
    with pytest.raises(ValueError, match="is not an address of a private network"):
        PushSettings(address, 0, TOKEN)


@pytest.mark.parametrize("address", ["", "localhost", "127.0.0.1:80"])
def test_a_name_is_no_address(address):
    with pytest.raises(ValueError, match="is no IP address"):
        PushSettings(address, 0, TOKEN)


@pytest.mark.parametrize(
    "token", ["", "short", "with space 0123456789", "ümlaut-0123456789abc", "line\n0123456789abcdef"]
)
def test_a_weak_token_is_refused_and_not_repeated(token):
    with pytest.raises(ValueError, match="the token must have at least 16") as caught:
        PushSettings("127.0.0.1", 0, token)
    assert not token or token not in str(caught.value)


def test_settings_do_not_show_their_token():
    assert TOKEN not in repr(PushSettings("127.0.0.1", 0, TOKEN))


def test_so_many_may_ask_at_once_and_then_as_it_refills():
    limit = RateLimit(3, 60.0)
    assert [limit.wait("a", 0.0) for _ in range(4)] == [0.0, 0.0, 0.0, 20.0]
    assert limit.wait("a", 15.0) == pytest.approx(5.0)
    assert limit.wait("a", 20.0) == 0.0
    assert limit.wait("a", 1000.0) == 0.0


def test_each_address_has_its_own_limit_and_not_all_are_remembered():
    limit = RateLimit(1, 60.0)
    assert limit.wait("a", 0.0) == limit.wait("b", 0.0) == 0.0
    assert limit.wait("a", 0.0) > 0.0
    for number in range(2000):
        limit.wait(str(number), 0.0)
    assert len(limit._levels) == 1024
    assert limit.wait("a", 0.0) == 0.0
