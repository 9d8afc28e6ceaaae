"""The two executors of one table: a `transitions` machine built from the rows, and the rows as integers."""

import pytest
from boatyard.rig import Rig
from hypothesis import given
from hypothesis import strategies as st

from supervisor.controller import ExecutorsDisagreeError, TableMachine
from supervisor.modes import (
    BOAT_COMPILED,
    BOAT_TABLE,
    NO_ROW,
    SHAFT_COMPILED,
    SHAFT_TABLE,
    BoatCondition,
    BoatMode,
    ShaftCondition,
    ShaftMode,
    first_row,
)
from supervisor.rules import compiled_decide

BOAT = TableMachine(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
SHAFT = TableMachine(SHAFT_TABLE, ShaftMode, ShaftMode.REST)


def _near_a_row(table: tuple, bits: int) -> st.SearchStrategy[tuple[object, int]]:
    """A row's source with a word that matches it, save for a few bits turned: most random words match nothing."""
    return st.builds(
        lambda row, extra, flips: (
            row.source,
            (int(row.must) | extra & ~int(row.must_not)) ^ sum(1 << f for f in flips),
        ),
        st.sampled_from(table),
        st.integers(0, (1 << bits) - 1),
        st.sets(st.integers(0, bits - 1), max_size=2),
    )


@given(_near_a_row(BOAT_TABLE, len(BoatCondition)))
def test_boat_executors_are_equal(case: tuple[BoatMode, int]) -> None:
    mode, word = case
    row = first_row(BOAT_COMPILED[mode], word)
    BOAT.state = mode
    assert BOAT.weigh_word(word) == (mode if row == NO_ROW else BOAT_TABLE[row].dest)
    BOAT.state = mode
    assert BOAT.consider(word) == row == compiled_decide(-1, mode, word)


@given(_near_a_row(SHAFT_TABLE, len(ShaftCondition)))
def test_shaft_executors_are_equal(case: tuple[ShaftMode, int]) -> None:
    mode, word = case
    row = first_row(SHAFT_COMPILED[mode], word)
    SHAFT.state = mode
    assert SHAFT.weigh_word(word) == (mode if row == NO_ROW else SHAFT_TABLE[row].dest)
    SHAFT.state = mode
    assert SHAFT.consider(word) == row == compiled_decide(0, mode, word)


@given(st.sampled_from(list(ShaftMode)), st.integers(0, (1 << 48) - 1))
def test_shaft_executors_are_equal_on_any_word(mode: ShaftMode, word: int) -> None:
    row = first_row(SHAFT_COMPILED[mode], word)
    SHAFT.state = mode
    assert SHAFT.weigh_word(word) == (mode if row == NO_ROW else SHAFT_TABLE[row].dest)


@pytest.mark.parametrize(("machine", "modes"), [(BOAT, BoatMode), (SHAFT, ShaftMode)])
def test_no_trigger_jumps_past_the_guards(machine: TableMachine, modes: type) -> None:
    """`transitions` adds to_MODE() to every machine unless it is told not to."""
    assert machine.machine.auto_transitions is False
    assert set(machine.machine.events) == {"weigh"}
    for mode in modes:
        assert not hasattr(machine, f"to_{mode.name}")
    assert not hasattr(machine, "trigger") or machine.machine.get_triggers(*modes) == ["weigh"]


@pytest.mark.parametrize(("machine", "table"), [(BOAT, BOAT_TABLE), (SHAFT, SHAFT_TABLE)])
def test_the_machine_has_a_transition_for_each_row_and_no_callbacks(machine: TableMachine, table: tuple) -> None:
    found = [t for event in machine.machine.events.values() for rows in event.transitions.values() for t in rows]
    assert len(found) == len(table)
    assert all(not t.before and not t.after and not t.prepare for t in found)
    assert all(not s.on_enter and not s.on_exit for s in machine.machine.states.values())


def test_a_controller_follows_the_compiled_executor_tick_for_tick() -> None:
    """The same voyage through the live machines and through the integers alone."""
    from supervisor.rules import initial_memory, run_tick

    rig = Rig()
    memory = initial_memory(rig.controller.boat)
    script = {40: ("helm.enable", True), 42: ("helm.enable", False), 60: ("port.lever.neutral", False),
              61: ("port.lever.lever_pct", 70.0), 120: ("bank.discharge_permit", False),
              130: ("bank.discharge_permit", True), 150: ("starboard.drive.fault", True),
              170: ("port.lever.lever_pct", 0.0), 171: ("port.lever.neutral", True),
              220: ("port.lever.neutral", False), 221: ("port.lever.lever_pct", -40.0),
              280: ("bank.fault", True)}  # fmt: skip
    for step in range(300):
        if step in script:
            name, value = script[step]
            rig[name] = value
        boat_in, shaft_in = rig.boat_in(), rig.shaft_in()
        was_s = rig.now_s
        out = rig.tick()
        dt_s = 0.0 if step == 0 else rig.now_s - was_s
        other = run_tick(rig.controller.boat, memory, boat_in, shaft_in, dt_s)
        memory = other.memory
        assert other.memory == rig.controller.memory
        assert (other.boat_command, other.shaft_commands) == (out.boat_command, out.shaft_commands)
    assert rig.mode("boat") == "TRIPPED"


class TestDisagreement:
    """Damaged memory: one executor says one thing, the other another. All torque stops, for good."""

    @pytest.fixture
    def damaged(self, monkeypatch: pytest.MonkeyPatch) -> Rig:
        rig = Rig().propel()
        machine = rig.controller._shaft_machines[1]
        monkeypatch.setattr(machine, "weigh_word", lambda word: ShaftMode.PROPEL)
        rig["starboard.drive.fault"] = True
        rig.tick()
        return rig

    def test_every_torque_stops_in_the_same_tick(self, damaged: Rig) -> None:
        damaged.expect_zero("executors disagree")
        assert all(not damaged.permits(name) for name in damaged.names)
        assert damaged.out is not None
        assert damaged.out.boat_mode == BoatMode.TRIPPED
        assert damaged.out.boat_command.stop_sources == 1
        assert damaged.out.boat_command.sounder == 1

    def test_it_is_told_once_with_its_word(self, damaged: Rig) -> None:
        trips = [e for e in damaged.events if e.first_out == "EXECUTORS"]
        assert len(trips) == 1
        assert "0x" in trips[0].text
        assert damaged.controller.failed

    def test_nothing_brings_torque_back(self, damaged: Rig) -> None:
        damaged["starboard.drive.fault"] = False
        damaged.levers(0)
        for _ in range(3):
            damaged.press("helm.reset")
            damaged.press("helm.enable")
            damaged.run(1.0)
        damaged.levers(60)
        damaged.run(1.0)
        damaged.expect_zero("executors disagree")
        assert all(not damaged.permits(name) for name in damaged.names)
        assert len([e for e in damaged.events if e.first_out == "EXECUTORS"]) == 1


def test_a_machine_whose_rows_differ_from_its_integers_raises() -> None:
    machine = TableMachine(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
    machine._compiled = tuple(
        tuple(row._replace(mask=row.mask | 1 << 20) for row in rows) for rows in machine._compiled
    )
    assert machine.consider(int(BoatCondition.EMERGENCY_STOP) | 1) == 0
    machine = TableMachine(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
    machine._compiled = tuple(tuple(row._replace(mask=0, value=0) for row in rows) for rows in machine._compiled)
    with pytest.raises(ExecutorsDisagreeError, match="table says TRIPPED, machine STANDBY"):
        machine.consider(0)
