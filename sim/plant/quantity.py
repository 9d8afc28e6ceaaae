"""A configuration number with its unit, its source and the range in which it is plausible."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

COMMON = "own choice"
DATASHEET = "typical of published data sheets; take yours"
OWN = "own choice for the demonstration boats"


class Section(BaseModel):
    """A table of the plant file: unknown keys are refused, numbers are finite, nothing changes after loading."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


def quantity(
    unit: str,
    low: float,
    high: float,
    source: str,
    *,
    default: Any = ...,
    gt: float | None = None,
    ge: float | None = None,
    lt: float | None = None,
    le: float | None = None,
) -> Any:
    """A field of a :class:`Section`.

    `low` to `high` is the plausible range (outside it ``thwart check`` warns); ``gt``, ``ge``, ``lt`` and ``le`` are
    the limits beyond which the model has no meaning (outside them loading fails).
    """
    return Field(
        default=default,
        gt=gt,
        ge=ge,
        lt=lt,
        le=le,
        description=source,
        json_schema_extra={"unit": unit, "low": low, "high": high, "source": source},
    )
