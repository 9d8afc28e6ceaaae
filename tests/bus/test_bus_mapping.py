"""A boat file that cannot be used is refused with its file, its key, what is wrong and what to do."""

from collections.abc import Callable
from typing import Any

import pytest
from bus_support import boat_data, compile_data

from supervisor.bus import BoatMap, InputRow, compile_boat
from supervisor.config import BoatConfig, ConfigError, load_config
from supervisor.config.load import shipped_boats
from supervisor.signals import BOAT

Data = dict[str, Any]
Change = Callable[[Data], None]


def put(path: str, value: Any) -> Change:
    """Set a key given as `inputs/bank.soc_pct/stale_s`; `shaft/0/...` reaches into the list."""

    def change(data: Data) -> None:
        here: Any = data
        *parents, last = path.split("/")
        for part in parents:
            here = here[int(part)] if isinstance(here, list) else here.setdefault(part, {})
        here[last] = value

    return change


def drop(path: str) -> Change:
    def change(data: Data) -> None:
        here: Any = data
        *parents, last = path.split("/")
        for part in parents:
            here = here[int(part)] if isinstance(here, list) else here[part]
        del here[last]

    return change


def both(*changes: Change) -> Change:
    def change(data: Data) -> None:
        for one in changes:
            one(data)

    return change


def order(message: str, signal: str, bus: str = "private") -> dict[str, str]:
    return {"bus": bus, "message": message, "signal": signal}


REFUSED: list[tuple[str, Change, str, str]] = [
    ("unknown message", put("inputs/bank.voltage_v/message", "DC_SOURCE_STATUS_9"),
     "inputs.bank.voltage_v.message", "Did you mean DC_SOURCE_STATUS"),
    ("missing signal", put("inputs/bank.voltage_v/signal", "Voltag"),
     "inputs.bank.voltage_v.signal", "Did you mean Voltage?"),
    ("unknown bus", put("inputs/bank.voltage_v/bus", "privat"), "inputs.bank.voltage_v.bus", ""),
    ("unknown input", put("inputs/bank.volts", order("DC_SOURCE_STATUS_1", "Voltage") | {"stale_s": 1.0}),
     "inputs.bank.volts", ""),
    ("unguarded permit",
     put("inputs/bank.charge_limit_a", order("DC_SOURCE_STATUS_4", "DesiredCurrent") | {"stale_s": 2.0}),
     "inputs.bank.charge_limit_a.message", "MONITOR_GUARD"),
    ("required input unmapped", drop("inputs/bank.fault"), "inputs.bank.fault", "Map bank.fault to a signal"),
    ("required shaft input unmapped", drop("shaft/1/inputs/lever.neutral"), "shaft.starboard.inputs.lever.neutral",
     "to a signal"),
    ("neither mapped nor declared", drop("inputs/helm.get_home"), "inputs.helm.get_home", "not_fitted"),
    ("guard signal as an input", put("inputs/bank.fault/signal", "Counter"), "inputs.bank.fault.signal", ""),
    ("where names no signal", put("inputs/bank.voltage_v/where", {"Inst": 1}), "inputs.bank.voltage_v.where",
     "Instance"),
    ("source of an 11-bit message", put("inputs/bank.fault/source", 3), "inputs.bank.fault.source", "Remove"),
    ("stale before the next frame", put("inputs/bank.soc_pct/stale_s", 0.5), "inputs.bank.soc_pct.stale_s", "3 to 5"),
    ("invert on a number", put("inputs/bank.soc_pct/invert", True), "inputs.bank.soc_pct.invert", "factor"),
    ("factor on a contact", put("inputs/bank.fault/factor", -1.0), "inputs.bank.fault.factor", "invert"),
    ("factor of zero", put("inputs/bank.soc_pct/factor", 0.0), "inputs.bank.soc_pct.factor", ""),
    ("raw code that is none", put("shaft/0/inputs/gearbox.gear_report/values", {"ahead": 1.0}),
     "shaft.port.inputs.gearbox.gear_report.values", "whole numbers"),
    ("raw code too wide", put("shaft/0/inputs/gearbox.gear_report/values", {"4": 1.0}),
     "shaft.port.inputs.gearbox.gear_report.values", ""),
    ("value beyond the input", put("shaft/0/inputs/gearbox.gear_report/values", {"1": 2.0}),
     "shaft.port.inputs.gearbox.gear_report.values", "-1 to 1"),
    ("a contact that is a number",
     put("inputs/helm.get_home", order("MONITOR_GUARD", "ChargeLimit") | {"stale_s": 0.2}),
     "inputs.helm.get_home.signal", "which codes mean on"),
    ("a number that is a contact", put("inputs/bank.cell_max_v", order("MONITOR_GUARD", "Fault") | {"stale_s": 0.2}),
     "inputs.bank.cell_max_v.signal", "that carries it"),
    ("empty range", put("inputs/bank.soc_pct/low", 100.0), "inputs.bank.soc_pct.low", ""),
    ("pairing code turned", put("inputs/handset.ours/invert", True), "inputs.handset.ours", "Remove"),
    ("handset without a code", put("boat/handset_id", 0), "boat.handset_id", ""),
    ("fast packet on a bus without",
     both(put("buses/backbone/kind", "private"),
          put("inputs/bank.soc_pct", order("DC_DETAILED_STATUS", "StateOfCharge", "backbone") | {"stale_s": 6.0})),
     "inputs.bank.soc_pct.message", "nmea2000"),
    ("measured by ourselves", put("inputs/runtime.receive_ok", order("MONITOR_GUARD", "Fault") | {"stale_s": 1.0}),
     "inputs.runtime.receive_ok", "Remove"),
    ("clutch fitted and declared away",
     both(put("shaft/0/not_fitted", ["clutch.open"]), drop("shaft/0/inputs/clutch.open")),
     "shaft.port.clutch.fitted", "Set fitted = false, or remove them from not_fitted"),
    ("lock not fitted and mapped", put("shaft/0/lock/fitted", False), "shaft.port.lock.fitted", "Set fitted = true"),
    ("unknown output", put("outputs/boat.colour", order("STATUS", "Derate")), "outputs.boat.colour", ""),
    ("output to an unknown message", put("outputs/boat.derate_pct/message", "STATUZ"),
     "outputs.boat.derate_pct.message", "Did you mean STATUS?"),
    ("output to an unknown signal", put("outputs/boat.derate_pct/signal", "Derated"), "outputs.boat.derate_pct.signal",
     "Did you mean Derate?"),
    ("output without guard", put("shaft/0/outputs/engine.start", order("DC_SOURCE_STATUS_6", "HighVoltageLimit")),
     "shaft.port.outputs.engine.start.message", "guarded"),
    ("two outputs in one signal", put("shaft/1/outputs/shaft.mode/signal", "ShaftMode1"),
     "shaft.starboard.outputs.shaft.mode", "of its own"),
    ("output into a message listened to",
     put("outputs/boat.derate_pct", order("DC_SOURCE_STATUS_2", "StateOfCharge")),
     "outputs.boat.derate_pct", "another message"),
    ("output into a fast packet",
     put("outputs/boat.derate_pct", order("DC_DETAILED_STATUS", "StateOfHealth", "backbone")),
     "outputs.boat.derate_pct.message", "At most 8"),
    ("order to the drive missing", drop("shaft/0/outputs/drive.torque_nm"), "shaft.port.outputs.drive.torque_nm",
     "Map"),
    ("enable missing", drop("shaft/1/outputs/drive.enable"), "shaft.starboard.outputs.drive.enable", "Map"),
    ("period of nothing sent", put("periods/DRIVE_A_1", 0.1), "periods.DRIVE_A_1", ""),
    ("period below a tick", put("periods/STATUS", 0.01), "periods.STATUS", "tick"),
    ("period of minutes", put("periods/STATUS", 60.0), "periods.STATUS", "10 s"),
    ("slow orders", put("periods/SHAFT_ORDER_1", 0.1), "periods.SHAFT_ORDER_1", "0.06"),
    ("missing DBC", put("buses/private/dbc", ["dbc/nothing.dbc"]), "", "path"),
    ("DBC given twice", put("buses/private/dbc", ["dbc/guarded.dbc", "dbc/guarded.dbc"]), "buses.private.dbc", ""),
    ("listen-only boat that sends", put("boat/listen_only", True), "outputs", "Remove"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "key", "remedy"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_file_key_and_remedy(change: Change, key: str, remedy: str) -> None:
    data = boat_data("marsh_tern")
    change(data)
    with pytest.raises(ConfigError) as caught:
        compile_data(data)
    error = caught.value
    assert error.file.endswith(".toml" if "nothing.dbc" not in str(error) else "nothing.dbc")
    assert error.key.startswith(key)
    assert remedy in error.remedy
    assert error.problem
    assert error.remedy


def test_unguarded_permit_is_told_where_guarded_ones_are() -> None:
    data = boat_data("marsh_tern")
    data["inputs"]["helm.enable"] = order("DC_SOURCE_STATUS_6", "HighVoltageLimit") | {"stale_s": 2.0}
    with pytest.raises(ConfigError, match="no counter and checksum, and ENABLE push-button can cause") as caught:
        compile_data(data)
    assert "HELM_CONTACTS" in caught.value.remedy


def test_listen_only_may_leave_inputs_out_and_take_unguarded_ones(house_map: BoatMap) -> None:
    assert len(house_map.inputs) == 5
    assert house_map.outputs == ()
    assert house_map.essential == frozenset()


@pytest.mark.parametrize("name", ["marsh_tern", "reed_warbler", "house_bank_24v"])
def test_shipped_boats_compile(name: str) -> None:
    assert name in shipped_boats()
    boat_map = compile_boat(load_config(name), name)
    assert boat_map.file.endswith(f"{name}.toml")


def test_a_dead_backbone_is_not_a_dead_receive_path(marsh_map: BoatMap) -> None:
    """Nothing on the backbone can cause torque: its loss is the loss of its inputs."""
    assert marsh_map.essential == {"private"}


def _row(boat_map: BoatMap, level: int, name: str) -> InputRow:
    return next(row for row in boat_map.inputs if row.level == level and row.spec.name == name)


def test_range_is_the_narrowest_of_input_dbc_and_boat_file() -> None:
    data = boat_data("marsh_tern")
    data["inputs"]["bank.voltage_v"]["high"] = 60.0
    data["inputs"]["bank.current_a"]["low"] = -700.0
    data["inputs"]["bank.soc_pct"] |= {"low": -50.0, "high": 200.0}  # a boat file may narrow, not widen
    boat_map = compile_data(data)
    assert _row(boat_map, BOAT, "bank.voltage_v")[9:11] == (5.0, 60.0)
    assert _row(boat_map, BOAT, "bank.current_a")[9:11] == (-700.0, 5000.0)
    assert _row(boat_map, BOAT, "bank.soc_pct")[9:11] == (0.0, 100.0)
    assert _row(boat_map, 0, "drive.torque_nm")[9:11] == (-3200.0, 3200.0)  # the frame's range
    assert _row(boat_map, 0, "drive.coolant_c")[9:11] == (-40.0, 150.0)


def test_boats_are_plausible_to_the_schema() -> None:
    for name in shipped_boats():
        assert isinstance(load_config(name), BoatConfig)


def test_stale_times_follow_the_periods(marsh_map: BoatMap) -> None:
    """Every input of the demonstration boat is stale after 3 to 5 periods of its message."""
    for row in marsh_map.inputs:
        assert row.message.period_s > 0, row.key
        assert 2.99 <= row.stale_s / row.message.period_s <= 5.01, row.key
