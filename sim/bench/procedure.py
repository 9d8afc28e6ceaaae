"""The procedure file as pydantic models: steps of timed actions, faults and expectations.

A step first reads the signals, then does `set`, `clear`, `inject` and `do`, in this order, then lets time pass until
its expectations are decided. `each`, `first` and `others` stand for shaft names, so that one file serves many boats.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from sim.bench.rig import EVENT_KINDS

Op = Literal["==", "!=", "<", "<=", ">", ">=", "~", "between", "has", "lacks"]
Of = Literal["value", "magnitude", "change", "rise_per_s", "fall_per_s"]
Seconds = Annotated[float, Field(gt=0, le=86400)]
SecondsFromZero = Annotated[float, Field(ge=0, le=86400)]
Value = bool | float | str


Need = Literal[
    "handset", "shaft clutch", "shaft lock", "stop and lock", "harvest", "charging under way", "charging at rest",
    "two shafts",
]  # fmt: skip
"""What a procedure may need of a boat."""


class Strict(BaseModel):
    """Base of every table: no unknown keys, no silent coercion, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


def flatten(table: object, prefix: str = "") -> object:
    """Nested tables to dotted keys, so that `do.port.lever_pct = 20` needs no quotes. Anything else is left alone."""
    if not isinstance(table, dict):
        return table
    flat: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            inner = flatten(value, f"{prefix}{key}.")
            if isinstance(inner, dict):
                flat.update(inner)
        else:
            flat[f"{prefix}{key}"] = value
    return flat


class FaultCall(BaseModel):
    """`inject = [{ fault, target, ... }]`: further keys are parameters of the fault."""

    model_config = ConfigDict(extra="allow", frozen=True, allow_inf_nan=False, strict=True)
    fault: str = Field(min_length=1)
    target: str = Field(min_length=1)

    @property
    def params(self) -> dict[str, Value]:
        """The parameters."""
        return dict(self.model_extra or {})

    @model_validator(mode="after")
    def _plain_params(self) -> "FaultCall":
        for key, value in self.params.items():
            if not isinstance(value, bool | int | float | str):
                raise ValueError(f"parameter {key!r} must be a number, true, false or a word")
        return self


class FaultEnd(Strict):
    """`clear = [{ fault, target }]`."""

    fault: str = Field(min_length=1)
    target: str = Field(min_length=1)


class Expectation(Strict):
    """One expectation of a step. It looks at a `signal`, at an explanation (`explain`) or at events (`event`, `says`).

    When it is read: with `within_s`, it must come true by then, counted from the start of the step; with `for_s`, it
    must then hold that long (alone: from the first tick on); with `always`, it must hold on every tick of the step
    after `after_s`; with `never`, on none; with none of these, on the last tick of the step.
    """

    signal: str | None = None
    of: Of = "value"
    over_s: Seconds | None = Field(default=None, description="window of a rise or fall; 0.5 s if not given")
    op: Op = "=="
    value: Value | None = None
    between: tuple[float, float] | None = None
    against: str | None = Field(default=None, description="compare with this signal instead of a value")
    tol: float | None = Field(default=None, ge=0, description="slack, in the unit of the signal")

    explain: str | None = Field(default=None, min_length=1, description='ask why: "enable", "port PROPEL"')
    says: str | None = Field(default=None, min_length=1, description="text that must be contained, case ignored")
    event: Literal[EVENT_KINDS] | None = None  # type: ignore[valid-type]  # a Literal made from the tuple
    subject: str | None = None

    within_s: Seconds | None = None
    for_s: Seconds | None = None
    after_s: SecondsFromZero = 0.0
    always: bool = False
    never: bool = False

    @model_validator(mode="before")
    @classmethod
    def _pair(cls, data: object) -> object:
        if isinstance(data, dict) and isinstance(data.get("between"), list):
            return {"op": "between", **data, "between": tuple(data["between"])}
        return data

    @model_validator(mode="after")
    def _consistent(self) -> "Expectation":
        kinds = [self.signal is not None, self.explain is not None, self.event is not None or self.subject is not None]
        if sum(kinds) > 1 or (not any(kinds) and self.says is None):
            raise ValueError("give one of: signal, explain (with says), event (with or without says), says")
        if self.signal is not None:
            self._check_signal()
        elif self.value is not None or self.between is not None or self.against is not None or self.op != "==":
            raise ValueError("op, value, between and against belong to a signal")
        if self.explain is not None and self.says is None:
            raise ValueError('explain needs says = "..." (says = "nothing is missing" for an empty list)')
        self._check_timing()
        return self

    def _check_signal(self) -> None:
        if self.says is not None:
            raise ValueError('says belongs to events or explain; for a text signal use op = "has"')
        if (self.value is not None) + (self.between is not None) + (self.against is not None) != 1:
            raise ValueError('a signal needs one of: value, between = [low, high], against = "other signal"')
        if (self.op == "between") != (self.between is not None):
            raise ValueError('op = "between" goes with between = [low, high]')
        if self.between is not None and self.between[0] > self.between[1]:
            raise ValueError("between = [low, high] has low above high")
        if self.op == "~" and self.tol is None:
            raise ValueError('op = "~" needs tol')
        text = isinstance(self.value, str)
        if text and (self.op not in ("==", "!=", "has", "lacks") or self.of != "value" or self.tol is not None):
            raise ValueError("a word can only be compared with ==, !=, has, lacks")
        if not text and self.op in ("has", "lacks"):
            raise ValueError(f"{self.op} needs a word as value")
        if self.over_s is not None and self.of not in ("rise_per_s", "fall_per_s"):
            raise ValueError('over_s goes with of = "rise_per_s" or "fall_per_s"')

    def _check_timing(self) -> None:
        if self.always and self.never:
            raise ValueError("always and never exclude each other")
        if (self.always or self.never) and (self.within_s is not None or self.for_s is not None):
            raise ValueError("always and never last for the whole step: no within_s or for_s with them")
        if self.after_s and not (self.always or self.never):
            raise ValueError("after_s goes with always or never")
        if self.always and self.signal is None and self.explain is None:
            raise ValueError("always needs a signal or explain")
        if self.for_s is not None and self.signal is None:
            raise ValueError("for_s needs a signal")


class Step(Strict):
    """`[[step]]`: one row of the procedure."""

    name: str = Field(min_length=1, max_length=200)
    do: dict[str, Value] = Field(default_factory=dict)
    set: dict[str, float] = Field(default_factory=dict)
    inject: list[FaultCall] = Field(default_factory=list)
    clear: list[FaultEnd] = Field(default_factory=list)
    wait_s: SecondsFromZero = Field(default=0.0, description="the step lasts at least this long")
    hold_s: SecondsFromZero = Field(default=0.0, description="and this long after its last deadline is decided")
    expect: list[Expectation] = Field(default_factory=list)

    @model_validator(mode="before")
    @classmethod
    def _dotted(cls, data: object) -> object:
        if isinstance(data, dict):
            return {key: flatten(value) if key in ("do", "set") else value for key, value in data.items()}
        return data

    @model_validator(mode="after")
    def _watches_start(self) -> "Step":
        if any(e.within_s is not None or e.for_s is not None for e in self.expect):
            return self
        for expectation in self.expect:
            if (expectation.always or expectation.never) and expectation.after_s >= self.wait_s + self.hold_s:
                raise ValueError("always and never need time to watch: give the step a wait_s longer than after_s")
        return self


class Procedure(Strict):
    """A whole procedure file."""

    title: str = Field(min_length=1, max_length=200)
    boat: str | None = Field(default=None, description="name of the one boat it is written for; else any")
    needs: list[Need] = Field(default_factory=list, description="what a boat must have for it; else it is refused")
    purpose: str = Field(default="", max_length=2000)
    requirements: list[Annotated[str, Field(pattern=r"^(SR-\d{2}|interlock [a-z][a-z0-9_]*)$")]] = Field(
        default_factory=list
    )
    step: list[Step] = Field(min_length=1, max_length=1000)
