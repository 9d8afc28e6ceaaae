"""Why it held back: the limit that binds, the condition that is missing, and verdicts that do not hang on rounding."""

from collections.abc import Callable
from pathlib import Path

import pytest
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]
from replay_recorded import record  # type: ignore[import-not-found]

from sim.replay.bounds import charge_bounds, derate_bounds
from sim.replay.result import Result
from sim.replay.rules import orders_of
from sim.replay.session import Options, Session
from sim.replay.short import short_lines
from sim.requirements import Judgement
from sim.requirements.grain import grain_of_orders, too_coarse, within_grain
from sim.rig.simulated import SimRig
from supervisor.config import load_config
from supervisor.controller import freeze
from supervisor.signals import Alarm, BoatCommand, BoatInput, BoatInputs

# marsh_tern: 208 A full; taper 88 to 94 %, cells 3.45 to 3.55 V, hot 40 to 45 degC, 0.2C of 520 Ah up to 10 degC
LIM = freeze(load_config("marsh_tern")).limits
ALL = (1 << 40) - 1
BANK = BoatInputs(known=ALL, on=0)._replace(
    soc_pct=60.0, voltage_v=53.0, cell_max_v=3.32, cell_min_v=3.31, cell_hot_c=20.0, cell_cold_c=18.0,
    charge_limit_a=300.0,
)  # fmt: skip


@pytest.mark.parametrize(
    ("readings", "limit_a", "words"),
    [
        ({"soc_pct": 91.0}, 104.0, ["state of charge above 88 %"]),
        ({"cell_max_v": 3.5}, 104.0, ["highest cell above 3.45 V"]),
        ({"cell_hot_c": 42.5}, 104.0, ["hottest cell above 40 degC"]),
        ({"cell_cold_c": 5.0}, 104.0, ["coldest cell not above 10 degC"]),
        ({"charge_limit_a": 30.0}, 30.0, ["the bank monitor's charge limit"]),
        ({"soc_pct": 89.0, "cell_max_v": 3.5}, 104.0, ["highest cell above 3.45 V"]),  # the tighter of two
        ({"soc_pct": 91.0, "cell_hot_c": 42.5}, 104.0, ["state of charge above", "hottest cell above"]),  # both
        ({}, 0.0, ["charge permit or closed contactor not confirmed"]),
    ],
)
def test_the_limit_that_binds_charging(readings: dict[str, float], limit_a: float, words: list[str]) -> None:
    found = charge_bounds(LIM, BANK._replace(**readings), limit_a)  # type: ignore[arg-type]
    assert len(found) == len(words)
    for text, word in zip(found, words, strict=True):
        assert text.startswith(word)


def test_what_is_not_known_is_told_from_what_the_boat_file_lacks() -> None:
    bank = BANK._replace(known=ALL & ~int(BoatInput.CELL_MAX | BoatInput.SOC))
    (text,) = charge_bounds(LIM, bank, 0.0, {int(BoatInput.SOC)})
    assert text == "unknown: state of charge of the bank; not in the boat file: highest cell voltage"
    (text,) = charge_bounds(LIM, BANK._replace(voltage_v=5.0), 0.0)
    assert text == "a voltage that this bank cannot have: 5 V"


@pytest.mark.parametrize(
    ("readings", "derate_pct", "alarms", "words"),
    [
        ({"soc_pct": 22.0}, 57.5, 0, "state of charge below 26 %"),
        ({"cell_min_v": 2.9}, 57.5, 0, "lowest cell below 3 V"),
        ({"soc_pct": 60.0}, 20.0, 0, "coming back by 2 %/s"),
        ({"cell_min_v": 3.2}, 40.0, int(Alarm.CELL_DERATE), "the lowest cell has sagged; given back by 5 %/s"),
        ({"soc_pct": 17.0}, 10.0, 0, "the bank came to its lower limit; thrust returns above 21 %"),
        ({"soc_pct": 20.0}, 0.0, int(Alarm.DERATE_ENDED), "the bank came to its lower limit"),
        ({"soc_pct": 60.0}, 0.0, 0, "discharge permit or closed contactor not confirmed"),
    ],
)
def test_the_limit_that_binds_propulsion(
    readings: dict[str, float], derate_pct: float, alarms: int, words: str
) -> None:
    command = BoatCommand(derate_pct=derate_pct, alarms=alarms)
    (text,) = derate_bounds(LIM, BANK._replace(**readings), command)  # type: ignore[arg-type]
    assert text.startswith(words)


def test_a_recording_says_what_the_boat_file_lacks(write_log: Callable[..., str]) -> None:
    """Four minutes of a bank whose monitor says neither cell voltages nor limits."""
    lines = []
    for k in range(240):
        lines += [battery_line(k, 26.5, -5.0), *soc_lines(k + 0.1, 73, sequence=k % 8)]
    session = Session("house_bank_24v", write_log(lines))
    session.run()
    held = {(one.what, one.why): one for one in session.result().run.held}
    charging = next(one for (what, why), one in held.items() if what == "charging below 100 A" and "not in the" in why)
    assert "not in the boat file: highest cell voltage" in charging.why
    assert (charging.least, charging.most) == (0.0, 0.0)
    held_back_s = sum(one.time_s for (what, _), one in held.items() if what == "charging below 100 A")
    assert held_back_s == pytest.approx(239.1, abs=0.1)  # from the first tick to the last
    assert not any("READY" in what for what, _ in held)  # it only listens


def low(rig: SimRig) -> None:
    """Full ahead inside the derate band, at 22 %: half way from 26 to 18 %, so that 57.5 % of the power is allowed."""
    rig.set_plant("bank.soc_pct", 22.0)
    rig.set_plant("monitor.soc_pct", 22.0)
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    rig.act("port.lever_pct", 100.0)
    rig.run(6.0)
    rig.act("port.engine", "start")  # with the lever ahead: refused by the interlock, and not of interest here
    rig.run(2.0)


@pytest.fixture(scope="module")
def low_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("low")
    record(folder, "marsh_tern", low)
    return folder


def result_of(folder: Path, options: Options) -> Result:
    session = Session("marsh_tern", str(folder), options)
    session.run()
    return session.result()


def test_steps_of_the_recorded_orders_violate_nothing(low_run: Path) -> None:
    """At the limit the order on the bus is rounded to 0.1 N m, sometimes upwards: that is no violation of SR-18."""
    result = result_of(low_run, Options(rules=True))
    ours, recorded = result.rules
    assert [one.id for one in ours.judgements if one.held is False] == []
    assert [one.id for one in recorded.judgements if one.held is False] == []
    derate = next(one for one in recorded.judgements if one.id == "SR-18")
    assert derate.closest is not None
    assert derate.closest < -0.1  # the evaluator alone would have called it one
    assert "rounded" in derate.words
    held = [one for one in result.run.held if one.why.startswith("state of charge below 26 %")]
    assert held
    assert held[0].least == pytest.approx(57.5, abs=2.0)
    assert any("state of charge below 26 %" in line for line in short_lines(result))


def test_a_violation_beyond_the_rounding_stays_one() -> None:
    judgements = [
        Judgement("SR-18", False, -4.9, "W", 3.0, 12.0, "x"), Judgement("SR-15", False, -4.9, "A", 3.0, 12.0, "y"),
        Judgement("SR-24", True, 5.0, "N m/s", 3.0, 0.0, "z"),
    ]  # fmt: skip
    found = within_grain(judgements, {"SR-18": 5.0, "SR-15": 0.4})
    assert [(one.held, one.duration_s) for one in found] == [(True, 0.0), (False, 12.0), (True, 0.0)]


def test_the_grain_of_our_own_orders(low_run: Path) -> None:
    """guarded.dbc orders torque in steps of 0.1 N m and current in steps of 0.1 A; a tick is 20 ms."""
    session = Session("marsh_tern", str(low_run))
    boat, orders = freeze(session.config), orders_of(session.commands)
    grain = grain_of_orders(session.subject.boat_map, boat, session.ticks.tick_s, orders)
    assert grain["SR-24"] == pytest.approx(0.1 / 0.02)
    assert grain["SR-20"] == pytest.approx(0.1 / 0.02)
    assert grain["SR-21"] == pytest.approx(0.1)
    assert too_coarse(boat, grain) == ["SR-20"]  # 5 A/s is more than the soft start's own 4 A/s


def test_a_whatif_is_not_isolated_because_the_drive_obeyed_the_recorded_orders(low_run: Path) -> None:
    """As changed, thrust ends at once at 22 %; the recorded drive goes on pulling, for it was told to."""
    settings = {"limits.derate_end_pct": 23.0, "limits.derate_return_pct": 24.0}
    result = result_of(low_run, Options(settings=settings))
    assert result.difference is not None
    modes = [one for one in result.difference.disagreements.stretches if one.what == "port.mode"]
    assert modes  # it is another story under these limits
    assert {one.theirs for one in modes} <= {0.0, 3.0, 4.0}  # REST, HARVEST or UNLOAD, never ISOLATED (5)


def disobeying(rig: SimRig) -> None:
    low(rig)
    rig.act("port.lever_pct", 0.0)
    rig.run(3.0)
    rig.inject("drive_disobeys", "port", torque_nm=30.0)
    rig.run(2.0)


def test_a_drive_that_really_disobeyed_isolates_both(tmp_path: Path) -> None:
    record(tmp_path, "marsh_tern", disobeying)
    result = result_of(tmp_path, Options(settings={"limits.derate_start_pct": 40.0}))
    assert any("ISOLATED" in one.dest for one in result.run.events if one.subject == "port")
    assert result.difference is not None
    assert result.difference.first_s is not None
    late = [one for one in result.difference.disagreements.stretches if one.what == "port.mode" and one.begin_s > 15.0]
    assert late == []


def test_drives_under_somebody_elses_orders_do_not_disobey_ours(low_run: Path, tmp_path: Path) -> None:
    """The same recording without a single order of ours, from the middle of a voyage on: the drive pulls, ours has only
    just been switched on."""
    lines = (low_run / "bus.log").read_text(encoding="ascii").splitlines()
    ours = tuple(f" {name}#" for name in ("031", "032", "03A", "074", "075", "079", "07B", "07C", "07D", "07E"))
    kept = [line for line in lines if float(line.split()[0].strip("()")) > 6.0 and not any(one in line for one in ours)]
    (tmp_path / "foreign.log").write_text("".join(f"{line}\n" for line in kept), encoding="ascii")
    session = Session("marsh_tern", str(tmp_path / "foreign.log"), Options(rules=True))
    session.run()
    result = session.result()
    assert result.shadow is None
    torque = next(one for one in result.run.readings if one.name == "port.drive.torque_nm")
    assert torque.most is not None
    assert torque.most > 20.0
    assert "ISOLATED" not in {one.mode for one in result.run.spans}
    assert "SR-32" not in {one.id for report in result.rules for one in report.judgements}
