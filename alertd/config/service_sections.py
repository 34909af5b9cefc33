"""Sections of the configuration that describe the service: channels, people, sources, timing, state."""

from typing import Literal

from pydantic import ConfigDict, Field, SecretStr

from .quantities import (
    CredentialName,
    Deadline,
    Gap,
    HttpAddress,
    Keeping,
    Line,
    Lines,
    ListenAddress,
    Number,
    PathText,
    Pause,
    QuietSpan,
    ShortKeeping,
    Slug,
    StationName,
    TimeOfDay,
    Whole,
    YesNo,
)
from .section import Section


class ChannelSection(Section):
    """A way to reach people."""

    model_config = ConfigDict(
        json_schema_extra={
            "oneOf": [
                {"required": ["url"]},
                {"required": ["credential"]},
            ]
        }
    )

    name: Line = Field(description="Name of the channel, for recipients and the log.")
    url: SecretStr | None = Field(
        default=None,
        description="Address of the channel. Only for addresses without a password, like a terminal or a file.",
    )
    credential: CredentialName | None = Field(
        default=None, description="Name of a file that holds the address, so that passwords stay out of this file."
    )


class RecipientSection(Section):
    """Somebody who is told."""

    name: Line = Field(description="Name of the person.")
    channels: list[Line] = Field(
        min_length=1, description="Names of channels in order: the next is used when one fails."
    )
    groups: list[Slug] | None = Field(
        default=None, min_length=1, description="Ids of the groups that the person is told about; left out, all."
    )
    quiet_hours: QuietSpan | None = Field(
        default=None,
        description=(
            "Local hours like 22:00-06:30 in which messages wait. Work that is called for with severity Severe or "
            "Extreme is told all the same, and so is what would be too late at their end."
        ),
    )
    digest: TimeOfDay | None = Field(
        default=None,
        description=(
            "Local time like 07:00 of one message a day with what is open and the nights ahead; what does not press is "
            "left to it. Left out, there is none."
        ),
    )
    digest_when_calm: YesNo = Field(
        default=True,
        description="Whether the digest comes on days on which nothing is open, too, as a proof of life.",
    )
    escalate_to: Line | None = Field(
        default=None,
        description=(
            "Name of the recipient who is asked when work that is called for is not answered by its reminder; where "
            "that one reads of the group anyway, the one after."
        ),
    )


class SourceSection(Section):
    """Where forecasts come from."""

    name: Line = Field(description="Name of the source, for messages and the log.")
    kind: Literal["file", "nws", "met_norway", "open_meteo", "open_meteo_ensemble", "mosmix"] = Field(
        description=(
            'Kind of the source: "file" reads a CSV file; "nws" is the US National Weather Service, "met_norway" the '
            'Norwegian Meteorological Institute, "open_meteo" and "open_meteo_ensemble" Open-Meteo, "mosmix" a station '
            "of the German weather service."
        )
    )
    weight: Number = Field(
        default=1.0, gt=0.0, le=100.0, description="Weight of the source among the others; 1 counts as one."
    )
    path: PathText | None = Field(
        default=None,
        description="file: path of the weather file; a relative one counts from this configuration file.",
    )
    credits: Lines | None = Field(
        default=None, description="Credit line in place of the one that the kind brings along."
    )
    base_url: HttpAddress | None = Field(
        default=None, description="All but file: address of the service, in place of its public one."
    )
    status_url: HttpAddress | None = Field(
        default=None, description="open_meteo: address of the model status, in place of the public one."
    )
    model: Line | None = Field(default=None, description="open_meteo: name of the weather model.")
    days: Whole | None = Field(default=None, ge=1, le=35, description="open_meteo: how many days ahead are asked for.")
    non_commercial: YesNo | None = Field(
        default=None,
        description="open_meteo: that the use is non-commercial, which the free service asks for.",
    )
    api_key: CredentialName | None = Field(
        default=None, description="open_meteo: name of a credential file that holds the key of the paid service."
    )
    station: Line | None = Field(default=None, description="mosmix: id of the station, like 10384.")


class PollingSection(Section):
    """How often sources are asked, and when their answers are too old."""

    every: Pause = Field(default="1h", description="Pause between two looks at the sources; one second at least.")
    stale_after: Gap = Field(
        default="12h", description="A forecast older than this, by its own reference time, is not trusted."
    )
    non_commercial: YesNo = Field(
        default=False,
        description=(
            "That the use is non-commercial, so that Open-Meteo's free service may be among the sources that are "
            "chosen where none is named."
        ),
    )
    request_deadline: Deadline = Field(default="20s", description="How long one request to a service may take.")
    proxies_from_environment: YesNo = Field(
        default=False, description="Whether HTTPS_PROXY and its like in the environment are used."
    )


class ObservationsSection(Section):
    """What thermometers near the trees say; shown beside forecasts, and kept for learning the site."""

    file: PathText | None = Field(
        default=None,
        description="Weather CSV that one thermometer writes on; a relative path counts from this configuration file.",
    )
    station: StationName = Field(default="thermometer", description="Name of the thermometer that writes the file.")
    push: ListenAddress | None = Field(
        default=None,
        description=(
            "Address and port on this machine, like 127.0.0.1:8790, at which devices hand over values; only in a "
            "private network."
        ),
    )
    push_token: CredentialName | None = Field(
        default=None, description="Name of a credential file with the token that devices must show."
    )
    nearest_stations: YesNo = Field(
        default=False,
        description="Whether the nearest public stations are asked, too; in the United States, and with site.contact.",
    )


class DeliverySection(Section):
    """How hard messages are tried."""

    deadline: Deadline = Field(default="30s", description="How long one send may take.")
    first_retry: Pause = Field(default="30s", description="Pause after the first failure; it doubles with each try.")
    max_retry: Pause = Field(default="30min", description="Longest pause between two tries.")
    max_tries: Whole = Field(default=8, ge=1, le=1000, description="Tries on one channel before the next takes over.")
    give_up_after: Gap = Field(
        default="24h",
        description="A message that no channel has taken for so long is overtaken; it is given up and reported.",
    )


class StateSection(Section):
    """Where the program remembers, and for how long."""

    database: PathText | None = Field(
        default=None,
        description=(
            "Path of the database; a relative one counts from this configuration file. Left out: alertd.sqlite in the "
            "service's state directory, in /var/lib/alertd if this file is in /etc/alertd, or else beside this file."
        ),
    )
    keep_alerts: Keeping = Field(
        default="800d", description="How long an alert is kept after its end; two winters at least are sensible."
    )
    keep_letters: Keeping = Field(
        default="800d", description="How long a message is kept after it was accepted or given up."
    )
    keep_observations: ShortKeeping = Field(default="400d", description="How long values of thermometers are kept.")
    keep_answers: ShortKeeping = Field(
        default="60d",
        description="How long the last answer of a service is kept that no source asks any more.",
    )
    keep_record: Keeping | None = Field(
        default=None,
        description=(
            "How long rows of the audit log are kept. Left out: for ever, since they are evidence. What is removed is "
            "replaced by a row that keeps the chain whole; rows that a kept alert or message rests on stay."
        ),
    )


class StatusSection(Section):
    """How others learn that the program lives and fares well."""

    listen: ListenAddress | None = Field(
        default=None,
        description=(
            "Address and port on this machine, like 127.0.0.1:9108, at which /metrics gives figures (OpenMetrics) and "
            "/healthy one line; left out, nobody is answered."
        ),
    )
    open_to_network: YesNo = Field(
        default=False,
        description="Whether listen may be an address that other machines can reach; nobody is asked for a password.",
    )
    heartbeat: SecretStr | None = Field(
        default=None,
        description=(
            "Address (http or https), or name of a credential file that holds it, that is called after each good look, "
            "so that an outside checker notices when calls no longer come. It is kept secret."
        ),
    )
    test_message: Literal["off", "weekly", "monthly"] = Field(
        default="off",
        description=(
            "Whether everybody gets a Test message by each of their channels, from work.earliest on: on Mondays, or on "
            "the first day of each month."
        ),
    )
