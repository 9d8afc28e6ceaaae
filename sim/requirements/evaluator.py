"""Every evaluator over one stream of records."""

from collections.abc import Iterable, Sequence

from sim.requirements.judge import Judge
from sim.requirements.on_astern import AsternInTime, BrakingBudget, StopAnnounced
from sim.requirements.on_bank import (
    ChargeBudget,
    ChargeEndLatched,
    ChargePermit,
    ColdOrHotBank,
    DerateBand,
    DerateReturns,
    DischargePermit,
    SoftStart,
    UnknownSoc,
    WarnsBefore,
)
from sim.requirements.on_coupling import CouplingWatched, JamStops
from sim.requirements.on_enable import (
    GivesUp,
    IdleEnds,
    IsolatedUntilReset,
    LatchedTrip,
    NeutralBeforeReady,
    OffInTime,
    OffMeansOff,
    OneShaftAlone,
    TripInItsTick,
)
from sim.requirements.on_hold import HeldNotTurned, HoldEnds
from sim.requirements.on_machinery import (
    AtRestStandsStill,
    CloseClutchPermit,
    ContactorClosed,
    DriveDisobeys,
    EngineHeadroom,
    HarvestMachinery,
    LinkPrecharged,
    LockPermit,
    LostShaftInput,
    NoDriveIntoOverspeed,
    OnlyOpposes,
    ReversalDwell,
    StartPermit,
    TorqueSlew,
)
from sim.requirements.on_motion import (
    DiverInTheWater,
    EngineClearForThrust,
    HandsetLimited,
    HandsetLost,
    LeverLost,
    NoPathIntoMotion,
    NoTorqueThroughTransit,
    OneControlPosition,
    ThrustNeedsFreeShaft,
)
from sim.requirements.on_own import OwnJudge
from sim.requirements.on_pause import BounceIsPause, ShoreCableIn
from sim.requirements.on_sources import LoadLeavesThrust, SourcesWithin
from sim.requirements.record import Judgement, Record
from sim.requirements.tick import TickReader
from supervisor.config.schema import Interlock
from supervisor.rules import Boat

JUDGES: tuple[type[Judge], ...] = (
    NeutralBeforeReady, OffMeansOff, TripInItsTick, LatchedTrip, NoPathIntoMotion, IsolatedUntilReset,
    ThrustNeedsFreeShaft, NoTorqueThroughTransit, EngineClearForThrust, DiverInTheWater, ShoreCableIn,
    AtRestStandsStill, ChargePermit, DischargePermit, ChargeBudget, ColdOrHotBank, ChargeEndLatched, DerateBand,
    DerateReturns, SoftStart, EngineHeadroom, OnlyOpposes, TorqueSlew, ReversalDwell, LeverLost, HandsetLost,
    HandsetLimited, OneControlPosition, LostShaftInput, OneShaftAlone, DriveDisobeys, LinkPrecharged, ContactorClosed,
    IdleEnds, StartPermit, CloseClutchPermit, LockPermit, UnknownSoc, HarvestMachinery, NoDriveIntoOverspeed,
    WarnsBefore, GivesUp, OffInTime, BrakingBudget, AsternInTime,
    StopAnnounced, CouplingWatched, JamStops, HeldNotTurned, HoldEnds, SourcesWithin, LoadLeavesThrust, BounceIsPause,
)  # fmt: skip
"""One class for each requirement that can be judged on signals, in the order of their identifiers."""


def judges_of(
    boat: Boat, names: Sequence[str], interlocks: Sequence[Interlock] = (), only: Iterable[str] | None = None
) -> list[Judge]:
    """Fresh evaluators of this boat: of the register, then of its own interlocks; `only` restricts them."""
    wanted = None if only is None else set(only)
    judges: list[Judge] = [kind(boat) for kind in JUDGES]
    judges += [OwnJudge(boat, channel, interlocks, names) for channel in range(len(interlocks))]
    return [judge for judge in judges if wanted is None or judge.identifier in wanted]


class Evaluator:
    """Feed it every tick of one boat; ask for judgements at any time.

    `boat` holds the limits (`supervisor.controller.controller.freeze(config)`); `names` the shafts' names for the
    words. `only` restricts it to some identifiers. `interlocks` are the boat file's own, each judged by its name, after
    the others. `from_power_up` says that the first record is the first tick after power-up; otherwise, and after every
    gap, what was before is not known and is not held against the boat.
    """

    def __init__(
        self,
        boat: Boat,
        names: Sequence[str] = (),
        only: Iterable[str] | None = None,
        interlocks: Sequence[Interlock] = (),
        *,
        from_power_up: bool = False,
    ) -> None:
        names = tuple(names) or tuple(f"shaft {i + 1}" for i in range(len(boat.shafts)))
        self._reader = TickReader(boat, names, from_power_up)
        self._judges = judges_of(boat, names, interlocks, only)
        self._broken = False
        self.unjudged: dict[str, str] = {}
        """Requirements that can be judged on signals and are not here, and why."""

    def feed(self, record: Record) -> None:
        """Look at one tick."""
        tick = self._reader.set(record)
        if tick is None or tick.was_mode is None:
            for judge in self._judges:
                judge.forget()
        if tick is None:
            return
        for judge in self._judges:
            judge.judge(tick)
            if not self._broken:
                closest = judge.tally.closest
                self._broken = closest is not None and not closest >= -judge.tally.TOLERANCE

    @property
    def broken(self) -> bool:
        """Some requirement has been violated so far (cheap: ask at every tick)."""
        return self._broken

    def finish(self) -> list[Judgement]:
        """The verdicts so far, in the order of the register. May be called at any time, and again later."""
        return [judge.judgement() for judge in self._judges]


def evaluate(
    boat: Boat, records: Iterable[Record], names: Sequence[str] = (), *, from_power_up: bool = False
) -> list[Judgement]:
    """The verdicts on a whole stream of records; see `Evaluator`."""
    evaluator = Evaluator(boat, names, from_power_up=from_power_up)
    for record in records:
        evaluator.feed(record)
    return evaluator.finish()
