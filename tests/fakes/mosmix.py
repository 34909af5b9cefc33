"""Invented MOSMIX files of one station, in the form that a description of the real ones gives."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime, timedelta

ISSUED = datetime(2026, 1, 22, 9, tzinfo=UTC)
STATION = "X9001"

NAMESPACES = (
    'xmlns:dwd="https://opendata.dwd.de/weather/lib/pointforecast_dwd_extension_V1_0.xsd" '
    'xmlns:kml="http://www.opengis.net/kml/2.2"'
)


def hours(count: int = 48, start: datetime = ISSUED + timedelta(hours=1)) -> list[datetime]:
    """Return hourly times."""
    return [start + timedelta(hours=number) for number in range(count)]


def rows(count: int = 48) -> dict[str, list[float | None]]:
    """Return believable values of each element that is read, and of one that is not."""
    air = [265.15 + 5.0 * abs(number % 24 - 12) / 12.0 for number in range(count)]
    minima: list[float | None] = [None] * count
    minima[20::24] = [round(min(air[max(place - 11, 0) : place + 1]) - 1.5, 2) for place in range(20, count, 24)]
    return {
        "PPPP": [102140.0] * count,
        "TTT": [round(value, 2) for value in air],
        "Td": [round(value - 2.0, 2) for value in air],
        "TN": minima,
        "E_TTT": [1.2 + number / 100.0 for number in range(count)],
        "Neff": [float(number % 100) for number in range(count)],
        "N": [88.0] * count,
        "FF": [3.09] * count,
        "RR1c": [0.1] * count,
    }


def kml(
    *,
    station: str = STATION,
    coordinates: str = "-91.40,47.05,250.0",
    issued: datetime = ISSUED,
    times: list[datetime] | None = None,
    values: dict[str, list[float | None]] | None = None,
    description: str = "GROẞ HÖVEL",
    encoding: str = "ISO-8859-1",
    prolog: str = "",
) -> bytes:
    """Return a KML document."""
    times = hours() if times is None else times
    values = rows(len(times)) if values is None else values
    steps = "\n".join(f"<dwd:TimeStep>{_time(time)}</dwd:TimeStep>" for time in times)
    forecasts = "\n".join(
        f'<dwd:Forecast dwd:elementName="{name}"><dwd:value>{_row(row)}</dwd:value></dwd:Forecast>'
        for name, row in values.items()
    )
    text = f"""<?xml version="1.0" encoding="{encoding}" standalone="yes"?>
{prolog}<kml:kml {NAMESPACES}>
<kml:Document>
<kml:ExtendedData><dwd:ProductDefinition>
<dwd:Issuer>Deutscher Wetterdienst</dwd:Issuer>
<dwd:ProductID>MOSMIX</dwd:ProductID>
<dwd:IssueTime>{_time(issued)}</dwd:IssueTime>
<dwd:ReferencedModel><dwd:Model dwd:name="ICON" dwd:referenceTime="{_time(issued)}"/></dwd:ReferencedModel>
<dwd:ForecastTimeSteps>
{steps}
</dwd:ForecastTimeSteps>
<dwd:FormatCfg><dwd:DefaultUndefSign>-</dwd:DefaultUndefSign></dwd:FormatCfg>
</dwd:ProductDefinition></kml:ExtendedData>
<kml:Placemark>
<kml:name>{station}</kml:name>
<kml:description>{description}</kml:description>
<kml:ExtendedData>
{forecasts}
</kml:ExtendedData>
<kml:Point><kml:coordinates>{coordinates}</kml:coordinates></kml:Point>
</kml:Placemark>
</kml:Document>
</kml:kml>
"""
    return text.encode(encoding, errors="xmlcharrefreplace")


def kmz(document: bytes | None = None, name: str = "MOSMIX_L_2026012209_X9001.kml", **options) -> bytes:
    """Return a KMZ file of a document, or of one made with `options`."""
    return zipped({name: kml(**options) if document is None else document})


def zipped(members: dict[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return a zip file."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", compression) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return file.getvalue()


def _time(time: datetime) -> str:
    return time.strftime("%Y-%m-%dT%H:%M:%S.000Z")


def _row(row: list[float | None]) -> str:
    return "".join(f"{'-' if value is None else f'{value:.2f}':>12}" for value in row)
