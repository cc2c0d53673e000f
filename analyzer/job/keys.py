"""What every table of the job file is made of: strict, closed and frozen models, each key with its meaning."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


def key(default: Any, meaning: str, accepts: str, **more: Any) -> Any:
    """One key: default (... where it must be given), meaning, and what is accepted, both as parts of a sentence."""
    return Field(default, description=meaning, json_schema_extra={"accepts": accepts}, **more)


class JobTable(BaseModel):
    """A table of the job file: an unknown key is refused, a wrong type too, and nothing changes after reading."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)
