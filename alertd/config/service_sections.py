"""Sections of the configuration that describe the service: channels, people, sources, timing, state."""

from typing import Literal

from pydantic import ConfigDict, Field, SecretStr

from .garden_sections import Section
from .quantities import CredentialName, Deadline, Gap, Line, Lines, PathText, Pause, Slug, Whole


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


class FileSourceSection(Section):
    """A weather file that something else keeps up to date."""

    name: Line = Field(description="Name of the source, for messages and the log.")
    kind: Literal["file"] = Field(description='Kind of the source; "file" reads a CSV file of forecasts.')
    path: PathText = Field(description="Path of the weather file; a relative one counts from this configuration file.")
    credits: Lines = Field(default="", description="Credit line that the provider of the forecast asks for.")


#: What a source may be, told apart by `kind`. A second kind turns this into a union.
SourceSection = FileSourceSection


class PollingSection(Section):
    """How often sources are asked, and when their answers are too old."""

    every: Pause = Field(default="1h", description="Pause between two looks at the sources; one second at least.")
    stale_after: Gap = Field(
        default="12h", description="A forecast older than this, by its own reference time, is not trusted."
    )


class DeliverySection(Section):
    """How hard messages are tried."""

    deadline: Deadline = Field(default="30s", description="How long one send may take.")
    first_retry: Pause = Field(default="30s", description="Pause after the first failure; it doubles with each try.")
    max_retry: Pause = Field(default="30min", description="Longest pause between two tries.")
    max_tries: Whole = Field(default=8, ge=1, le=1000, description="Tries on one channel before it is given up.")


class StateSection(Section):
    """Where the program remembers."""

    database: PathText | None = Field(
        default=None,
        description=(
            "Path of the database; a relative one counts from this configuration file. Left out: alertd.sqlite in the "
            "service's state directory, or beside this file."
        ),
    )
