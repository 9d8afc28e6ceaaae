"""Every class of error in a boat file: the complaint names file, key, value and remedy."""

from pathlib import Path
from typing import Any

import pytest
from boatyard.boats import boat_data, changed

from supervisor.config import ConfigError, load_config, parse_config

FILE = "some_boat.toml"


def complaint(changes: dict[str, Any], shafts: int = 2) -> ConfigError:
    with pytest.raises(ConfigError) as caught:
        parse_config(changed(boat_data(shafts), changes), FILE)
    assert caught.value.file == FILE
    assert str(caught.value).startswith(f"{FILE}: ")
    assert "Traceback" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ("limits/taper_strat_pct", "limits.taper_strat_pct"),
        ("boat/colour", "boat.colour"),
        ("bank/volts", "bank.volts"),
        ("shaft/0/drive/rated_torque", "shaft.0.drive.rated_torque"),
        ("shaft/1/engine/cylinders", "shaft.1.engine.cylinders"),
        ("shaft/0/lock/kind", "shaft.0.lock.kind"),
        ("buses/private/speed", "buses.private.speed"),
        ("extras", "extras"),
    ],
)
def test_an_unknown_key_is_refused_wherever_it_stands(path: str, key: str) -> None:
    error = complaint({path: 1.0})
    assert error.key == key
    assert "unknown key" in error.problem
    assert "Did you mean" in error.remedy or "correct its spelling" in error.remedy


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ("limits/full_charge_a", "limits.full_charge_a"),
        ("bank/opening_warning_s", "bank.opening_warning_s"),
        ("shaft/0/drive/torque_slew_nm_per_s", "shaft.0.drive.torque_slew_nm_per_s"),
        ("shaft/0/gearbox/ratio", "shaft.0.gearbox.ratio"),
        ("shaft/0/rules/propeller_nm_per_krpm2", "shaft.0.rules.propeller_nm_per_krpm2"),
        ("inputs", "inputs"),
        ("boat/name", "boat.name"),
    ],
)
def test_a_missing_key_is_named(path: str, key: str) -> None:
    error = complaint({path: ...})
    assert (error.key, error.problem) == (key, "is missing")
    assert error.remedy.startswith(f"Add {path.rsplit('/', maxsplit=1)[-1]}")


@pytest.mark.parametrize(
    ("path", "value", "key"),
    [
        ("limits/taper_start_pct", "88", "limits.taper_start_pct"),
        ("limits/taper_start_pct", True, "limits.taper_start_pct"),
        ("bank/cells_in_series", 16.5, "bank.cells_in_series"),
        ("bank/cells_in_series", "16", "bank.cells_in_series"),
        ("shaft/0/clutch/fitted", 1, "shaft.0.clutch.fitted"),
        ("boat/name", 7, "boat.name"),
        ("boat/name", "Bad Name", "boat.name"),
        ("buses/private/dbc", "guarded.dbc", "buses.private.dbc"),
        ("buses/private/bitrate", 300000, "buses.private.bitrate"),
        ("shaft/0/drive/rated_power_kw", [10.0], "shaft.0.drive.rated_power_kw"),
    ],
)
def test_a_wrong_type_is_refused_and_never_coerced(path: str, value: object, key: str) -> None:
    error = complaint({path: value})
    assert error.key == key
    assert "is not allowed" in error.problem
    assert error.remedy


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
@pytest.mark.parametrize(
    "path",
    [
        "limits/full_charge_a", "limits/cold_zero_c", "bank/capacity_ah", "shaft/0/drive/efficiency",
        "shaft/0/gearbox/ratio", "shaft/1/rules/still_rpm", "inputs/bank.soc_pct/stale_s", "boat/tick_s",
    ],
)  # fmt: skip
def test_no_number_is_nan_or_infinite(path: str, value: float) -> None:
    error = complaint({path: value})
    assert error.key.split(".")[0] == path.split("/", maxsplit=1)[0]


@pytest.mark.parametrize("point", [[float("nan"), 95.0], [800.0, float("inf")]])
def test_no_point_of_a_torque_curve_is_nan(point: list[float]) -> None:
    assert "torque_curve" in complaint({"shaft/0/engine/torque_curve/0": point}).key


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("limits/taper_end_pct", 100.1), ("limits/derate_end_pct", -0.1), ("boat/tick_s", 0.0049),
        ("boat/tick_s", 0.101), ("shaft/0/drive/efficiency", 0.0), ("shaft/0/drive/efficiency", 1.01),
        ("bank/capacity_ah", 0.0), ("shaft/0/engine/headroom", 1.01), ("limits/charge_rise_a_per_s", 0.0),
        ("limits/permit_zero_s", 0.0), ("limits/neutral_s", 0.0), ("shaft/0/drive/torque_slew_nm_per_s", 0.0),
        ("inputs/bank.soc_pct/stale_s", 0.0), ("inputs/bank.soc_pct/source", 254), ("boat/handset_id", 256),
        ("shaft/0/engine/torque_curve", [[800.0, 90.0]]),
        ("shaft/0/engine/torque_curve", [[800.0 + i, 90.0] for i in range(9)]),
    ],
)  # fmt: skip
def test_a_number_out_of_its_range_is_refused_with_its_value(path: str, value: object) -> None:
    error = complaint({path: value})
    assert error.key == path.replace("/", ".")
    if not isinstance(value, list):
        assert repr(value) in error.problem
    assert error.remedy


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("limits/taper_end_pct", 100.0), ("boat/tick_s", 0.005), ("boat/tick_s", 0.1),
        ("shaft/0/drive/efficiency", 1.0), ("inputs/bank.soc_pct/source", 253), ("boat/handset_id", 255),
    ],
)  # fmt: skip
def test_the_ends_of_a_range_are_allowed(path: str, value: object) -> None:
    parse_config(changed(boat_data(), {path: value}), FILE)


def test_more_complaints_are_counted_not_listed() -> None:
    error = complaint({"limits/one": 1, "limits/two": 2, "bank/three": 3})
    assert "2 more" in str(error)


@pytest.mark.parametrize("name", ["bank.soc", "bank_soc_pct", "port.lever.lever_pct", ""])
def test_an_unknown_input_is_refused_and_the_allowed_ones_are_listed(name: str) -> None:
    entry = {"bus": "private", "message": "M", "signal": "S", "stale_s": 0.1}
    error = complaint({f"inputs/{name}": entry})
    assert name in error.key
    assert "no such input" in error.problem
    assert "bank.soc_pct" in error.remedy


def test_an_unknown_input_of_a_shaft_is_refused() -> None:
    entry = {"bus": "private", "message": "M", "signal": "S", "stale_s": 0.1}
    error = complaint({"shaft/1/inputs/lever.position": entry})
    assert error.key == "shaft.starboard.inputs.lever.position"
    assert "lever.lever_pct" in error.remedy


@pytest.mark.parametrize(
    "name",
    [
        "bank.charge_permit", "bank.discharge_permit", "bank.contactor_closed", "bank.fault", "bank.opening",
        "bank.soc_pct", "bank.voltage_v", "bank.cell_max_v", "bank.cell_cold_c", "helm.enable", "helm.disable",
        "helm.reset", "helm.emergency_stop", "bank.charge_limit_a", "bank.current_a",
    ],
)  # fmt: skip
def test_an_indispensable_input_must_be_mapped(name: str) -> None:
    error = complaint({f"inputs/{name}": ...})
    assert name in error.key
    assert "is not mapped to any signal" in error.problem
    assert error.remedy == f"Map {name} to a signal"


@pytest.mark.parametrize("name", ["lever.lever_pct", "lever.neutral", "drive.torque_nm", "gearbox.neutral",
                                  "engine.running", "drive.link_v", "drive.fault"])  # fmt: skip
def test_an_indispensable_input_of_a_shaft_cannot_be_declared_away(name: str) -> None:
    error = complaint({f"shaft/0/inputs/{name}": ..., "shaft/0/not_fitted": [name]})
    assert error.key == "shaft.port.not_fitted"
    assert "required" in error.problem


def test_a_part_that_may_be_missing_must_be_declared_missing() -> None:
    error = complaint({"inputs/handset.held": ...})
    assert "not_fitted" in error.remedy
    parse_config(changed(boat_data(), {"inputs/handset.held": ..., "not_fitted": ["handset.held"]}), FILE)


def test_an_input_cannot_be_mapped_and_not_fitted() -> None:
    error = complaint({"not_fitted": ["handset.held"]})
    assert "mapped as well" in error.problem


def test_an_unknown_name_under_not_fitted_is_refused() -> None:
    assert "no such input" in complaint({"not_fitted": ["handset.colour"]}).problem


def test_an_unknown_bus_is_refused_and_the_buses_are_listed() -> None:
    error = complaint({"inputs/bank.soc_pct/bus": "backbone"})
    assert error.key == "inputs.bank.soc_pct.bus"
    assert "'backbone'" in error.problem
    assert "private" in error.remedy


@pytest.mark.parametrize(
    ("path", "floor"),
    [
        ("inputs/bank.contactor_closed", "trip_boat"), ("inputs/bank.fault", "trip_boat"),
        ("inputs/bank.opening", "trip_boat"), ("inputs/helm.emergency_stop", "trip_boat"),
        ("inputs/helm.disable", "trip_boat"), ("shaft/0/inputs/lever.lever_pct", "ramp_down"),
        ("shaft/0/inputs/lever.neutral", "ramp_down"), ("shaft/0/inputs/drive.torque_nm", "trip_shaft"),
        ("shaft/0/inputs/drive.current_a", "trip_shaft"), ("shaft/0/inputs/drive.machine_speed_rpm", "trip_shaft"),
        ("shaft/0/inputs/drive.link_v", "trip_shaft"), ("shaft/0/inputs/drive.fault", "trip_shaft"),
    ],
)  # fmt: skip
def test_a_reaction_milder_than_the_floor_is_refused(path: str, floor: str) -> None:
    order = ["warn", "derate", "inhibit_charge", "ramp_down", "trip_shaft", "trip_boat"]
    for milder in order[: order.index(floor)]:
        error = complaint({f"{path}/reaction": milder})
        assert error.key.endswith(".reaction")
        assert repr(milder) in error.problem
        assert error.remedy == f"Use {' or '.join(order[order.index(floor) :])}"
    parse_config(changed(boat_data(), {f"{path}/reaction": floor}), FILE)


def test_a_reaction_that_does_not_exist_is_refused() -> None:
    error = complaint({"inputs/bank.soc_pct/reaction": "panic"})
    assert "'panic'" in error.problem
    assert "trip_boat" in error.remedy


def test_two_shafts_of_one_name_are_refused() -> None:
    error = complaint({"shaft/1/name": "port"})
    assert "'port' is used twice" in error.problem


def test_no_shaft_at_all_and_five_shafts_are_refused() -> None:
    assert "no shaft" in complaint({"shaft": []}).problem
    five = [boat_data(1)["shaft"][0] | {"name": f"s{i}"} for i in range(5)]
    assert complaint({"shaft": five}).key == "shaft"


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_one_to_four_shafts_are_allowed(count: int) -> None:
    assert len(parse_config(boat_data(count), FILE).shaft) == count


def test_a_listening_boat_may_leave_inputs_unmapped() -> None:
    data = changed(boat_data(), {"inputs": {}, "shaft": [], "boat/listen_only": True})
    assert parse_config(data, FILE).boat.listen_only


# ---- files


def test_a_file_that_is_not_there_names_the_shipped_boats(tmp_path: Path) -> None:
    with pytest.raises(ConfigError) as caught:
        load_config(tmp_path / "nowhere.toml")
    assert "nowhere.toml" in str(caught.value)
    assert "marsh_tern" in caught.value.remedy


def test_broken_toml_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    path.write_text('[boat]\nname = "x"\ntitle = \n')
    with pytest.raises(ConfigError) as caught:
        load_config(path)
    assert str(path) == caught.value.file
    assert "line 3" in caught.value.problem


def test_a_file_that_is_not_text_is_told(tmp_path: Path) -> None:
    path = tmp_path / "binary.toml"
    path.write_bytes(b'[boat]\nname = "\xff\xfe"\n')
    with pytest.raises(ConfigError, match="not UTF-8 text \\(byte 15\\)"):
        load_config(path)


def test_an_empty_file_is_told_what_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text("")
    with pytest.raises(ConfigError, match="is missing"):
        load_config(path)


def test_a_file_that_may_not_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.toml"
    path.write_text("")

    def refuse(*_: object, **__: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_text", refuse)
    with pytest.raises(ConfigError, match="cannot be read: Permission denied"):
        load_config(path)


def test_the_others_are_kept_for_who_wants_them_all() -> None:
    error = complaint({"limits/one": 1, "limits/two": 2, "bank/three": 3})
    assert [other.key for other in error.others] == ["limits.one", "limits.two"] or len(error.others) == 2
    assert {error.key, *(other.key for other in error.others)} == {"limits.one", "limits.two", "bank.three"}


def test_a_misspelt_key_comes_before_the_one_that_is_then_missing_and_the_right_one_is_proposed() -> None:
    error = complaint({"bank/capacity_ah": ..., "bank/capacty_ah": 600.0})
    assert error.key == "bank.capacty_ah"
    assert "capacity_ah?" in error.remedy
    assert [other.key for other in error.others] == ["bank.capacity_ah"]


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("bank/min_voltage_v", 44800.0, "Allowed: above 0 to 1000"),
        ("boat/tick_s", 20.0, "Allowed: 0.005 to 0.1"),
        ("bank/capacity_ah", "600", "without quotes"),
        ("boat/name", "My Boat", "Small letters, digits and _"),
        ("buses/private/dbc", [], "has 0 entries"),
        ("shaft/0/engine/torque_curve/0", [800.0, 95.0, 1.0], "has 3 entries"),
    ],
)
def test_what_is_allowed_is_said_in_plain_words(path: str, value: object, words: str) -> None:
    text = str(complaint({path: value}))
    assert words in text
    for foreign in ("Input should", "String should", "Tuple should", "List should", "validation"):
        assert foreign not in text


@pytest.mark.parametrize("value", [600.1, 0.0, 700.0, 86400.0])
def test_enabling_gives_up_after_ten_minutes_at_the_latest(value: float) -> None:
    """A key's own bound counts, not the wider one of its kind."""
    assert complaint({"limits/neutral_wait_s": value}).key == "limits.neutral_wait_s"
    parse_config(changed(boat_data(), {"limits/neutral_wait_s": 600.0}), FILE)


def test_a_number_of_four_hundred_digits_does_not_fill_the_screen() -> None:
    assert len(str(complaint({"bank/cells_in_series": int("1" * 400)}))) < 200


def test_a_folder_is_told_from_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="is a folder"):
        load_config(tmp_path)
    with pytest.raises(ConfigError, match="CONFIG: no such boat file"):
        load_config("")


def test_a_byte_order_mark_is_no_error(tmp_path: Path) -> None:
    """As some editors save UTF-8."""
    source = Path(__file__).resolve().parents[2] / "configs" / "marsh_tern.toml"
    file = tmp_path / "marked.toml"
    file.write_bytes(b"\xef\xbb\xbf" + source.read_bytes())
    assert load_config(file).boat.name == "marsh_tern"
