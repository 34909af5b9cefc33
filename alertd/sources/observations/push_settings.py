"""How values that devices send are listened for."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass, field

#: Shortest token. Assumed: 16 random letters and digits cannot be guessed at the rate that is allowed.
SHORTEST_TOKEN = 16


@dataclass(frozen=True, slots=True)
class PushSettings:
    """How the server listens.

    Parameters
    ----------
    address : str
        IP address of this machine on loopback or a private network.
    port : int
        0 takes any free one.
    token : str
        Devices send it as ``Authorization: Bearer TOKEN``; at least 16 printable ASCII characters without spaces.
    stations : frozenset of str
        Names that are taken; if empty, any.
    largest_body : int
        [bytes]
    deadline : float
        A connection is closed after this time [s], however busy it is.
    requests, period : int, float
        So many requests of one address are answered within a time [s].
    most_connections : int
        At the same time.

    Raises
    ------
    ValueError
        If the address is none of a private network, or the token is too short or has other characters.
    """

    address: str
    port: int
    token: str = field(repr=False)
    stations: frozenset[str] = frozenset()
    largest_body: int = 64 * 1024
    deadline: float = 10.0
    requests: int = 60
    period: float = 60.0
    most_connections: int = 16

    def __post_init__(self) -> None:
        """Refuse what would be open to the world."""
        try:
            address = ipaddress.ip_address(self.address)
        except ValueError as error:
            message = f"{self.address!r} is no IP address; name the one at which devices reach this machine"
            raise ValueError(message) from error
        if address.is_unspecified or not (address.is_private or address.is_loopback or address.is_link_local):
            message = f"{self.address} is not an address of a private network; name the one in your own network"
            raise ValueError(message)
        if len(self.token) < SHORTEST_TOKEN or not all("!" <= character <= "~" for character in self.token):
            message = f"the token must have at least {SHORTEST_TOKEN} ASCII letters, digits or signs, and no space"
            raise ValueError(message)
