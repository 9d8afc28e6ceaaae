"""The property kit knows own interlocks: it puts them, judges them by name, and hands over what it finds."""

from pathlib import Path

import own_defects
import pytest
from hypothesis import find
from own_boat import BILGE, LADDER, SEAL, write_boat

from sim.requirements import own_sentence
from sim.rig.simulated import SimRig
from sim.testing import RequirementViolatedError, machine_for, open_bench, operator_actions, own_actions, rerun, sail
from supervisor.config import load_config
from supervisor.signals import OwnEffect


class TestStrategies:
    def test_what_is_put(self, tmp_path: Path) -> None:
        config = load_config(write_boat(tmp_path, LADDER, SEAL))
        for wanted in (
            ("interlock.swim_ladder", "bad"), ("interlock.swim_ladder", "unknown"), ("interlock.shaft_seal", "good"),
            ("interlock.shaft_seal", 80.0), ("interlock.shaft_seal", 70.0), ("interlock.shaft_seal", 75.0),
        ):  # fmt: skip
            assert find(own_actions(config), lambda action, wanted=wanted: action == wanted) == wanted
        assert find(operator_actions(config), lambda action: action[0] == "interlock.swim_ladder")

    def test_a_boat_without_any(self) -> None:
        with pytest.raises(ValueError, match="no \\[\\[interlock\\]\\]"):
            own_actions(load_config("marsh_tern"))


class TestBench:
    @pytest.mark.parametrize("buses", [True, False])
    def test_by_hand(self, tmp_path: Path, buses: bool) -> None:
        bench = open_bench(write_boat(tmp_path, LADDER), buses=buses).situation("propel")
        bench.do("interlock.swim_ladder", "bad").run(0.5)
        bench.expect("each.order_nm", "==", 0.0).expect("interlock.swim_ladder", "==", "bad")
        bench.expect("interlock.swim_ladder.seen", "==", 0.0).expect("boat.alarms", "has", "interlock")
        assert "swim ladder is down" in bench.explain("first PROPEL")
        assert bench.held("interlock swim_ladder") is True
        bench.do("interlock.swim_ladder", "good").run(1.0).expect("each.order_nm", "==", 0.0)
        bench.close()

    def test_a_violation_reads_like_a_fault_report(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        own_defects.effect_forgotten(monkeypatch)
        bench = open_bench(write_boat(tmp_path, LADDER), buses=False, failures=tmp_path).situation("propel")
        bench.do("interlock.swim_ladder", "bad")
        with pytest.raises(RequirementViolatedError) as caught:
            bench.run(1.0)
        report = str(caught.value)
        assert "RULE      interlock swim_ladder" in report
        assert own_sentence(load_config(tmp_path / "boat.toml").interlock[0]) in report
        assert "N m ordered while swim ladder is down" in report
        procedure = tmp_path / "interlock_swim_ladder_marsh_tern.toml"
        assert procedure.is_file()
        assert not rerun(procedure, lambda: SimRig(tmp_path / "boat.toml")).passed
        monkeypatch.undo()
        assert rerun(procedure, lambda: SimRig(tmp_path / "boat.toml")).passed


def test_the_sentence_says_all_of_it(tmp_path: Path) -> None:
    config = load_config(write_boat(tmp_path, LADDER | {"shafts": ["port"]}, SEAL, BILGE | {"debounce_s": 0.0}))
    assert [own_sentence(entry) for entry in config.interlock] == [
        "While swim ladder is down for 0.2 s, or its signal is unknown, there is no thrust, at once (port); not "
        "before, and not otherwise.",
        "While a shaft seal is hot for 1 s, or its signal is unknown, thrust ahead stays within 40 % of rated torque "
        "and power; not before, and not otherwise.",
        "While water in the bilge, or its signal is unknown, charging is led to zero; not before, and not otherwise.",
    ]


class TestSailing:
    """At random: the sound product holds every one, and a broken one is found by its own name."""

    @pytest.mark.parametrize("effect", [OwnEffect.STOP_THRUST, OwnEffect.LIMIT_THRUST, OwnEffect.UNLOAD_CHARGE,
                                        OwnEffect.TRIP_SHAFT], ids=lambda effect: effect.name)  # fmt: skip
    def test_the_sound_product(self, tmp_path: Path, effect: OwnEffect) -> None:
        self.sailed(tmp_path, effect, voyages=6)

    @pytest.mark.campaign
    @pytest.mark.parametrize("effect", OwnEffect, ids=lambda effect: effect.name)
    def test_the_sound_product_for_long(self, tmp_path: Path, effect: OwnEffect) -> None:
        self.sailed(tmp_path, effect, voyages=150)

    @staticmethod
    def sailed(folder: Path, effect: OwnEffect, voyages: int) -> None:
        entry = (SEAL if effect is OwnEffect.LIMIT_THRUST else LADDER) | {"effect": effect.name.lower()}
        if effect not in (OwnEffect.WARN, OwnEffect.TRIP_BOAT):
            entry |= {"shafts": ["port"]}
        second = BILGE | {"effect": "inhibit_thrust", "message": "PLAIN", "stale_s": 0.4}
        file = write_boat(folder, entry, second)
        sail(machine_for(file, failures=None), voyages=voyages, steps=20, shrink=False, seed=7)

    @pytest.mark.parametrize(
        "defect", ["contact inverted", "unknown taken for good", "debounce in ticks", "wrong shaft", "effect forgotten"]
    )
    def test_a_broken_one(self, tmp_path: Path, defect: str, monkeypatch: pytest.MonkeyPatch) -> None:
        file = write_boat(tmp_path, LADDER | {"shafts": ["port"]})
        own_defects.DEFECTS[defect].seed(monkeypatch)
        machine = machine_for(file, situations=("propel",), faults=(), failures=None)
        with pytest.raises(RequirementViolatedError) as caught:
            sail(machine, voyages=100, steps=20, shrink=False, seed=3)
        assert caught.value.violation.judgement.id == "interlock swim_ladder"
