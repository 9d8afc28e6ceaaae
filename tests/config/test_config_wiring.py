"""Copied lines: one adapter for two buses, one signal for two inputs, a current counted the wrong way round."""

from typing import Any

import pytest
from boatyard.boats import changed

from supervisor.config import Finding, check_config, parse_config, shipped_path
from supervisor.config.load import read_boat


def findings(changes: dict[str, Any]) -> list[Finding]:
    """Of a shipped boat, whose every line is mapped to a real signal, with some lines changed."""
    return check_config(parse_config(changed(read_boat(shipped_path("marsh_tern.toml")), changes), "boat.toml"))


def test_two_buses_on_one_adapter_are_refused() -> None:
    one = {"interface": "socketcan", "channel": "can0"}
    changes = {f"buses/{bus}/{key}": value for bus in ("private", "backbone") for key, value in one.items()}
    assert [(f.level, f.key) for f in findings(changes)] == [("error", "buses.backbone.channel")]
    assert findings({**changes, "buses/backbone/channel": "can1"}) == []
    assert findings({**changes, "buses/backbone/interface": "slcan"}) == []


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"inputs/bank.discharge_permit/signal": "ChargePermit"}, "inputs.bank.discharge_permit.signal"),
        ({"shaft/1/inputs/lever.lever_pct/message": "LEVER_1"}, "shaft.starboard.inputs.lever.lever_pct.signal"),
    ],
)
def test_one_signal_read_for_two_inputs_warns(changes: dict[str, Any], key: str) -> None:
    assert [(f.level, f.key) for f in findings(changes)] == [("warning", key)]


def test_one_signal_with_other_codes_is_no_copy() -> None:
    """Neutral and ahead out of one coded gear signal."""
    gear = {"message": "CONTACTS_1", "signal": "Gear"}
    changes: dict[str, Any] = {f"shaft/0/inputs/gearbox.neutral/{key}": value for key, value in gear.items()}
    changes |= {f"shaft/0/inputs/gearbox.ahead/{key}": value for key, value in gear.items()}
    changes |= {
        "shaft/0/inputs/gearbox.neutral/values": {"0": 0.0, "1": 1.0},
        "shaft/0/inputs/gearbox.ahead/values": {"0": 1.0, "1": 0.0},
    }
    assert findings(changes) == []


def test_a_listening_boat_may_read_one_sensor_twice() -> None:
    changes = {"boat/listen_only": True, "inputs/bank.discharge_permit/signal": "ChargePermit"}
    assert findings(changes) == []


@pytest.mark.parametrize(("factor", "warned"), [(1.0, True), (0.5, True), (-1.0, False), (-0.5, False)])
def test_a_current_that_counts_out_of_the_bank_must_be_turned(factor: float, warned: bool) -> None:
    changes = {
        "inputs/bank.current_a/message": "DC_SOURCE_STATUS_1",
        "inputs/bank.current_a/signal": "Current",
        "inputs/bank.current_a/factor": factor,
    }
    found = [f.key for f in findings(changes) if f.level == "warning"]
    assert found == (["inputs.bank.current_a.factor"] if warned else [])
