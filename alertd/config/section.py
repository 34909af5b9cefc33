"""What every table of the configuration is."""

from pydantic import BaseModel, ConfigDict


class Section(BaseModel):
    """A table of the configuration; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", hide_input_in_errors=True, frozen=True)
