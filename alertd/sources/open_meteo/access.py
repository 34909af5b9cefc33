"""Which address of the service is asked, and whether its terms allow that."""

from __future__ import annotations

from dataclasses import dataclass, field
from urllib.parse import urlsplit

from alertd.core import SourceUnavailable

_DOMAIN = "open-meteo.com"
_CUSTOMER = "customer-"


@dataclass(frozen=True, slots=True)
class Endpoint:
    """One of the service's endpoints.

    Parameters
    ----------
    host : str
        First part of the host name at the service.
    path : str
        With a leading slash.
    """

    host: str
    path: str


#: Hosts and paths. Source: the service's OpenAPI files and documentation, seen.
FORECAST = Endpoint("api", "/v1/forecast")
ENSEMBLE = Endpoint("ensemble-api", "/v1/ensemble")
ARCHIVE = Endpoint("archive-api", "/v1/archive")
PREVIOUS_RUNS = Endpoint("previous-runs-api", "/v1/forecast")


@dataclass(frozen=True, slots=True)
class Access:
    """How the service is reached.

    Parameters
    ----------
    base_url : str or None
        Address in front of ``/v1/…``; None for the service's own.
    api_key : str or None
        Secret key of a customer.
    non_commercial : bool
        Whether somebody has declared that the use is non-commercial, as the free address demands.
    """

    base_url: str | None = None
    api_key: str | None = field(default=None, repr=False)
    non_commercial: bool = False

    def url(self, endpoint: Endpoint) -> str:
        """Return the URL of an endpoint.

        Parameters
        ----------
        endpoint : Endpoint
            What is asked for.

        Returns
        -------
        str
            Without query. Customers' hosts begin with ``customer-`` (the service's OpenAPI files, seen).
        """
        return f"{self._base(endpoint)}{endpoint.path}"

    def status_url(self, model: str) -> str:
        """Return the URL that tells when a model was last run.

        Parameters
        ----------
        model : str
            Name of the model for this purpose.

        Returns
        -------
        str
            Without query.
        """
        return f"{self._base(FORECAST)}/data/{model}/static/meta.json"

    def credentials(self) -> tuple[tuple[str, str], ...]:
        """Return the parameters that show who asks."""
        return (("apikey", self.api_key),) if self.api_key else ()

    def require_permission(self, endpoint: Endpoint) -> None:
        """Refuse to ask where the service's terms do not allow it.

        Parameters
        ----------
        endpoint : Endpoint
            What would be asked.

        Raises
        ------
        SourceUnavailable
            If the free address would be asked without the declaration that the use is non-commercial, or the
            customers' address without a key.

        Notes
        -----
        The free address is for non-commercial use only: no advertisements, no subscriptions; home automation is
        allowed. Source: the service's terms, seen. Other hosts are somebody's own servers.
        """
        host = urlsplit(self._base(endpoint)).hostname or ""
        if host != _DOMAIN and not host.endswith(f".{_DOMAIN}"):
            return
        if host.startswith(_CUSTOMER) and not self.api_key:
            message = f"{host} is for customers; set api_key"
            raise SourceUnavailable(message)
        if not host.startswith(_CUSTOMER) and not self.non_commercial:
            message = f"{host} is free for non-commercial use only; set non_commercial = true if that is so, or api_key"
            raise SourceUnavailable(message)

    def _base(self, endpoint: Endpoint) -> str:
        """Return the address in front of the path."""
        if self.base_url is not None:
            return self.base_url.rstrip("/")
        return f"https://{_CUSTOMER if self.api_key else ''}{endpoint.host}.{_DOMAIN}"
