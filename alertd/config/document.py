"""The whole configuration file as one model, and its JSON Schema."""

from typing import Any

from pydantic import ConfigDict, Field
from pydantic.json_schema import GenerateJsonSchema
from pydantic_settings import BaseSettings, SettingsConfigDict

from alertd.core import TemperatureUnit

from .garden_sections import ClassSection, GroupSection, RulesSection, SiteSection, WorkSection
from .quantities import ClassName, PathText
from .section import Section
from .service_sections import (
    ChannelSection,
    DeliverySection,
    ObservationsSection,
    PollingSection,
    RecipientSection,
    SourceSection,
    StateSection,
    StatusSection,
)

#: What the names of environment variables that change the configuration begin with.
PREFIX = "ALERTD_"

#: What stands between section and key in such a name.
DELIMITER = "__"


class Document(Section):
    """Configuration of alertd."""

    model_config = ConfigDict(title="alertd configuration")

    units: TemperatureUnit = Field(
        default=TemperatureUnit.CELSIUS,
        description='Unit of every temperature in this file and in messages: "degF" or "Cel".',
    )
    credentials_directory: PathText | None = Field(
        default=None,
        description=(
            "Directory of credential files; a relative path counts from this file. Left out: a directory named "
            "credentials beside this file. Files that the service manager hands over come first."
        ),
    )
    site: SiteSection = Field(description="The place: where it is and how its people tell the time.")
    work: WorkSection = Field(
        default=WorkSection(), description="Working hours, how many people work, and when they are reminded."
    )
    groups: list[GroupSection] = Field(min_length=1, description="Trees that are judged and handled together.")
    classes: dict[ClassName, ClassSection] = Field(
        default={},
        json_schema_extra={"additionalProperties": False},
        description="Own hardiness classes by name, and changes to built-in ones.",
    )
    rules: RulesSection = Field(default=RulesSection(), description="What raises an alert, and the numbers behind it.")
    channels: list[ChannelSection] = Field(default=[], description="Ways to reach people.")
    recipients: list[RecipientSection] = Field(default=[], description="People who are told.")
    sources: list[SourceSection] = Field(default=[], description="Where forecasts come from.")
    polling: PollingSection = Field(
        default=PollingSection(),
        description="Pauses between looks at the sources, and the age at which a forecast is stale.",
    )
    observations: ObservationsSection = Field(
        default=ObservationsSection(), description="Thermometers near the trees, and public stations."
    )
    delivery: DeliverySection = Field(default=DeliverySection(), description="Deadline and retries of a message.")
    state: StateSection = Field(default=StateSection(), description="The database of the program.")
    status: StatusSection = Field(
        default=StatusSection(), description="Figures, a heartbeat and Test messages: proof that the program lives."
    )


class EnvironmentDocument(Document, BaseSettings):
    """The same keys as environment variables: ``ALERTD_WORK__PEOPLE=2`` is ``work.people = 2``."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, env_nested_delimiter=DELIMITER)


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema of the configuration file.

    Returns
    -------
    dict
        A JSON Schema, draft 2020-12, in which every key has a description.
    """
    return {"$schema": GenerateJsonSchema.schema_dialect, **Document.model_json_schema()}
