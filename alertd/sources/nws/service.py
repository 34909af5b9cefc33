"""What all requests to the service have in common."""

from __future__ import annotations

#: Where the service is. Source: its OpenAPI 3.9.2, seen.
BASE_URL = "https://api.weather.gov"

#: Without ``Accept``, old answers were seen; the other formats have no GeoJSON geometry.
HEADERS = (("Accept", "application/geo+json"),)

#: Data are in the public domain; its disclaimer asks that changed content is not called official (seen, the last
#: from memory).
CREDITS = (
    "Forecast data: US National Weather Service (public domain). "
    "Modified by this software; not an official NWS product."
)
