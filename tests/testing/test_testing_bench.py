"""The bench without buses behaves like the one with them, and can be put back to a moment."""

import pytest
from hypothesis import Phase, find, given, settings

from sim.testing import BenchFailedError, DirectRig, configurations, kept_bench, open_bench
from sim.testing.script import ScriptStep, tidy
from supervisor.config import BoatConfig, check_config

MODES = {
    "cold": "REST", "lever_ahead": "REST", "ready": "REST", "propel": "PROPEL", "tripped": "REST",
    "isolated": "ISOLATED", "generate": "GENERATE", "at_rest": "GENERATE", "harvest": "HARVEST", "handset": "PROPEL",
}  # fmt: skip


@pytest.mark.parametrize("buses", [False, True], ids=["direct", "buses"])
@pytest.mark.parametrize("situation", MODES)
def test_each_situation_is_what_it_says(situation: str, buses: bool) -> None:
    """On both rigs, from power-up, with every requirement held on the way."""
    bench = open_bench("marsh_tern", buses=buses).situation(situation)
    bench.expect("first.mode", "==", MODES[situation])
    bench.close()


def test_both_rigs_come_to_the_same_thrust() -> None:
    """Frames quantise and delay; they change nothing else."""
    ends = []
    for buses in (False, True):
        bench = open_bench("marsh_tern", buses=buses).situation("propel").run(3.0)
        ends.append([bench.number(name) for name in ("port.torque_nm", "boat.speed_kn", "bank.soc_pct")])
        bench.close()
    assert ends[0] == pytest.approx(ends[1], rel=0.02)


def test_names_that_do_not_exist_say_which_come_near() -> None:
    bench = open_bench("marsh_tern", buses=False)
    with pytest.raises(KeyError) as unknown:
        bench.expect("port.torque", "<", 1.0)
    assert str(unknown.value).startswith("there is no signal named 'port.torque'. Did you mean port.torque_nm")
    for look in (bench.held, bench.closest):
        with pytest.raises(KeyError, match=r"there is no requirement watched here named 'SR-099'\. Did you mean SR-0"):
            look("SR-099")
    bench.close()


class TestMoments:
    def test_back_is_really_back(self) -> None:
        """The same again from the same moment gives the same, to the last bit."""
        bench = open_bench("marsh_tern", buses=False).situation("propel")
        mark = bench.mark()
        seen = []
        for _ in range(2):
            bench.back(mark).do("port.lever_pct", -60.0).run(1.5)
            bench.inject("lock_unproven", "starboard").run(0.3)
            seen.append((dict(bench.rig.signals()), bench.controller.memory, tidy(bench.steps)))
        # repr: what is not known is NaN, and no NaN equals another
        assert repr(seen[0]) == repr(seen[1])

    def test_a_rig_with_buses_has_none(self) -> None:
        bench = open_bench("marsh_tern")
        with pytest.raises(TypeError, match="cannot be taken back"):
            bench.mark()
        bench.close()

    def test_a_fault_at_work_has_a_memory_of_its_own(self) -> None:
        bench = open_bench("marsh_tern", buses=False).run(1.2).inject("drive_fault", "port")
        with pytest.raises(ValueError, match="while no fault is at work"):
            bench.mark()

    def test_kept_benches_start_where_they_were_brought(self) -> None:
        kept_bench("marsh_tern", "propel").do("each.lever_pct", 0.0).run(2.0).expect("each.mode", "==", "REST")
        kept_bench("marsh_tern", "propel").expect("each.mode", "==", "PROPEL")


class TestWords:
    def test_what_cannot_be_done_is_said(self) -> None:
        bench = open_bench("reed_warbler", buses=False)
        with pytest.raises(ValueError, match="no situation 'harvest'; allowed: cold"):
            bench.situation("harvest")
        with pytest.raises(ValueError, match="needs frames, and this boat has no buses"):
            bench.inject("bad_crc", "monitor")
        with pytest.raises(ValueError, match="no comparison; allowed"):
            bench.expect("bank.soc_pct", "=", 70.0)

    def test_an_unknown_value_meets_nothing(self) -> None:
        bench = open_bench("marsh_tern", buses=False).run(1.5).inject("value_out_of_range", "bank.soc_pct").run(0.1)
        for op in ("==", "!=", "<", ">"):
            with pytest.raises(BenchFailedError):
                bench.expect("bank.seen_soc_pct", op, 50.0)


class TestScript:
    def test_a_second_action_on_one_target_takes_a_tick(self) -> None:
        """As in a procedure: a step does each thing once, in its order, and lasts at least a tick."""
        bench = open_bench("marsh_tern", buses=False).run(1.0)
        bench.do("port.lever_pct", 20.0).do("starboard.lever_pct", 20.0).do("port.lever_pct", 30.0).set(
            "bank.soc_pct", 60
        )
        bench.run(0.1)
        assert bench.steps == [
            ScriptStep(ticks=50),
            ScriptStep(do={"port.lever_pct": 20.0, "starboard.lever_pct": 20.0}, ticks=1),
            ScriptStep(do={"port.lever_pct": 30.0}, ticks=1),
            ScriptStep(set={"bank.soc_pct": 60.0}, ticks=5),
        ]


class TestStrategies:
    @settings(max_examples=8)
    @given(config=configurations("reed_warbler"))
    def test_configurations_are_sound_and_can_be_sailed(self, config: BoatConfig) -> None:
        assert all(finding.level != "error" for finding in check_config(config))
        DirectRig(config, file="reed_warbler").run(0.04)

    def test_configurations_vary_where_they_may(self) -> None:
        """Each kind of limit is moved sooner or later, and the shafts of one boat can differ."""
        for moved in (
            lambda config: config.limits.neutral_s != 0.5,
            lambda config: config.limits.taper_end_pct < 90.0,
            lambda config: config.shaft[0].drive.torque_slew_nm_per_s > config.shaft[1].drive.torque_slew_nm_per_s,
        ):
            search = settings(database=None, max_examples=200, phases=(Phase.generate,))
            find(configurations("marsh_tern"), moved, settings=search)
