"""The services that take letters, opened by URL."""

from __future__ import annotations

import warnings
from typing import Any

#: Schemas of the services that speak SMTP.
MAIL_SCHEMAS = frozenset({"mailto", "mailtos"})

#: Schemas of the plain webhooks, where HTTP headers of our own are welcome.
WEBHOOK_SCHEMAS = frozenset({"json", "jsons", "form", "forms", "xml", "xmls"})


def open_service(url: str) -> Any:  # noqa: ANN401 - the library has no types
    """Return the service that a URL names, or None if no service understands it.

    No connection is opened. No plugins are loaded from directories, nothing is kept on disk.

    Parameters
    ----------
    url : str
        One URL.

    Returns
    -------
    apprise.NotifyBase or None
        An instance of its own, so that its pause between two letters never applies.
    """
    from apprise import Apprise, AppriseAsset  # noqa: PLC0415 - the daemon itself never needs it

    asset = AppriseAsset(
        app_id="alertd",
        app_desc="Forecast alerts for cold-tender plants",
        app_url="",
        plugin_paths=None,
        storage_path=None,
        http_redirects=False,
        secure_logging=True,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about modules that the library tries on its first use, none of ours
        return Apprise.instantiate(url, asset=asset)
