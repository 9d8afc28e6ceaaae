"""What is said to be needed for a verdict: everything else may be taken away, and no verdict moves."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import pytest
from requirement_voyages import VOYAGES, voyage

from sim.requirements import JUDGES, Evaluator, Judgement, Record
from sim.requirements.judge import Judge
from sim.requirements.needs import Needs, missing, needs_of
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import (
    BOAT_INPUTS,
    SHAFT_INPUTS,
    Alarm,
    BoatCommand,
    BoatInput,
    BoatInputs,
    ShaftCommand,
    ShaftInput,
    ShaftInputs,
    ShaftPermit,
)

BOAT = voyage("thrust").controller.boat


def judge_of(identifier: str) -> Judge:
    return next(kind(BOAT) for kind in JUDGES if kind.identifier == identifier)


@dataclass
class Without:
    """Takes away from a record whatever is not needed."""

    needs: Needs

    def boat(self, inputs: BoatInputs) -> BoatInputs:
        gone = {spec.field: 0.0 for spec in BOAT_INPUTS if spec.field and not self.needs.boat & spec.bit}
        return inputs._replace(known=inputs.known & self.needs.boat, on=inputs.on & self.needs.boat, **gone)

    def shaft(self, inputs: ShaftInputs) -> ShaftInputs:
        gone = {spec.field: 0.0 for spec in SHAFT_INPUTS if spec.field and not self.needs.shaft & spec.bit}
        return inputs._replace(known=inputs.known & self.needs.shaft, on=inputs.on & self.needs.shaft, **gone)

    def said(self, name: str) -> bool:
        return name in self.needs.outputs

    def boat_command(self, command: BoatCommand) -> BoatCommand:
        alarms = command.alarms
        alarms &= ~0xFFFFFFFF if not self.said("boat.alarms") else ~0
        alarms &= 0xFFFFFFFF if not self.said("boat.more_alarms") else ~0
        return BoatCommand(
            command.stop_sources if self.said("sources.stop") else 0,
            command.sounder if self.said("sounder.on") else 0,
            alarms,
            command.charge_limit_a if self.said("boat.charge_limit_a") else 0.0,
            command.derate_pct if self.said("boat.derate_pct") else 0.0,
            command.handset_in_control if self.said("handset.in_control") else 0,
        )

    def shaft_command(self, command: ShaftCommand) -> ShaftCommand:
        names = {
            "drive.enable": ShaftPermit.DRIVE_ENABLE, "drive.precharge": ShaftPermit.PRECHARGE,
            "engine.start": ShaftPermit.ENGINE_START, "clutch.close": ShaftPermit.CLUTCH_CLOSE,
            "lock.engage": ShaftPermit.LOCK_ENGAGE,
        }  # fmt: skip
        kept = sum(int(bit) for name, bit in names.items() if self.said(name))
        return ShaftCommand(
            command.torque_nm if self.said("drive.torque_nm") else 0.0,
            command.current_a if self.said("drive.current_a") else 0.0,
            command.permits & kept,
        )

    def record(self, record: Record) -> Record:
        assert record.boat_in is not None
        assert record.boat_command is not None
        assert all(inputs is not None for inputs in record.shaft_in)
        return record._replace(
            boat_in=self.boat(record.boat_in),
            shaft_in=tuple(self.shaft(inputs) for inputs in record.shaft_in if inputs is not None),
            boat_command=self.boat_command(record.boat_command),
            shaft_commands=tuple(self.shaft_command(one) for one in record.shaft_commands if one is not None),
            boat_mode=record.boat_mode if self.said("boat.mode") else BoatMode.READY,
            shaft_modes=record.shaft_modes if self.said("shaft.mode") else (ShaftMode.REST,) * len(record.shaft_modes),
            boat_word=None,
            shaft_words=(),
        )


def verdict(identifier: str, name: str, records: list[Record]) -> Judgement:
    controller = voyage(name).controller
    evaluator = Evaluator(controller.boat, controller.shaft_names, only=(identifier,), from_power_up=True)
    for record in records:
        evaluator.feed(record)
    return evaluator.finish()[0]


@cache
def whole(name: str) -> Mapping[str, Judgement]:
    """Every verdict on a voyage as it was; each evaluator is its own, so that all of them may look at once."""
    controller = voyage(name).controller
    evaluator = Evaluator(controller.boat, controller.shaft_names, from_power_up=True)
    for record in voyage(name).records:
        evaluator.feed(record)
    return {one.id: one for one in evaluator.finish()}


def plain(judgement: Judgement) -> Judgement:
    """Without the words, which may name what is no part of the verdict."""
    return judgement._replace(words="")


@pytest.mark.parametrize("identifier", [kind.identifier for kind in JUDGES])
def test_nothing_else_moves_a_verdict(identifier: str) -> None:
    without = Without(needs_of(judge_of(identifier), BOAT))
    occasions = 0
    for name in VOYAGES:
        records = voyage(name).records
        seen = whole(name)[identifier]
        bare = verdict(identifier, name, [without.record(record) for record in records])
        assert plain(bare) == plain(seen), name
        occasions += seen.held is not None
    assert occasions


def test_some_are_known_by_heart() -> None:
    needs = needs_of(judge_of("SR-24"), BOAT)
    assert needs == Needs(0, 0, frozenset({"drive.torque_nm"}))
    needs = needs_of(judge_of("SR-07"), BOAT)
    contacts = ShaftInput.CLUTCH_CLOSED | ShaftInput.CLUTCH_OPEN | ShaftInput.LOCK_RELEASED | ShaftInput.LOCK_ENGAGED
    assert needs == Needs(0, int(contacts), frozenset({"drive.torque_nm"}))
    needs = needs_of(judge_of("SR-43"), BOAT)
    assert needs == Needs(int(BoatInput.SOC | BoatInput.CURRENT), 0, frozenset({"boat.alarms"}))


def test_missing_names_the_input_and_its_shaft() -> None:
    needs = Needs(int(BoatInput.SOC), int(ShaftInput.LEVER | ShaftInput.TORQUE), frozenset())
    assert missing(needs, 0, [("port", int(ShaftInput.LEVER)), ("starboard", -1)]) == [
        "bank.soc_pct", "port.drive.torque_nm",
    ]  # fmt: skip
    assert missing(needs, -1, [("port", -1)]) == []


def test_alarms_are_in_the_word_that_carries_them() -> None:
    assert Alarm.JAMMED.value >> 32
    assert needs_of(judge_of("SR-55"), BOAT).outputs == {"boat.more_alarms", "drive.torque_nm"}
