"""Limits against each other and against ratings: each contradiction is found, each edge is where it should be."""

from typing import Any

import pytest
from boatyard.boats import boat_config

from supervisor.config import ConfigError, Finding, check_config


def findings(changes: dict[str, Any], shafts: int = 2) -> list[Finding]:
    return check_config(boat_config(changes, shafts))


def errors(changes: dict[str, Any]) -> list[str]:
    return [finding.key for finding in findings(changes) if finding.level == "error"]


def test_the_test_boat_has_no_finding_at_all() -> None:
    assert findings({}) == []


ORDERED = [
    # lower key, higher key, a value that both get, the lower's share beyond it
    ("taper_start_pct", "taper_end_pct", 93.0),
    ("charge_restart_pct", "taper_end_pct", 92.0),
    ("cell_taper_start_v", "cell_taper_end_v", 3.5),
    ("cold_zero_c", "cold_full_c", 5.0),
    ("cold_full_c", "hot_start_c", 20.0),
    ("hot_start_c", "hot_zero_c", 42.0),
    ("derate_end_pct", "derate_return_pct", 20.0),
    ("derate_return_pct", "derate_start_pct", 22.0),
    ("cell_derate_end_v", "cell_derate_start_v", 2.9),
    ("charge_end_a", "full_charge_a", 50.0),
]


@pytest.mark.parametrize(("low", "high", "value"), ORDERED)
def test_two_limits_in_the_wrong_order_or_equal_are_an_error(low: str, high: str, value: float) -> None:
    equal = errors({f"limits/{low}": value, f"limits/{high}": value})
    assert f"limits.{low}" in equal or f"limits.{high}" in equal, equal
    crossed = errors({f"limits/{low}": value + 0.01, f"limits/{high}": value})
    assert f"limits.{low}" in crossed or f"limits.{high}" in crossed, crossed


def test_a_derate_band_above_the_taper_is_refused_by_both_keys_and_values() -> None:
    changes = {"limits/derate_start_pct": 90.0, "limits/taper_start_pct": 88.0}
    found = [f for f in findings(changes) if f.key == "limits.derate_start_pct"]
    assert [f.level for f in found] == ["error"]
    assert "90 %" in found[0].problem
    assert "taper_start_pct = 88 %" in found[0].problem
    assert found[0].remedy


def test_the_derate_band_may_reach_up_to_just_below_the_taper() -> None:
    assert errors({"limits/derate_start_pct": 87.99}) == []
    assert errors({"limits/derate_start_pct": 88.0}) == ["limits.derate_start_pct"]


def test_a_derate_band_five_points_wide_is_a_good_configuration() -> None:
    """Check value (common practice, no source): a band five points wide above the lower limit; ours differs."""
    five = {"limits/derate_start_pct": 25.0, "limits/derate_end_pct": 20.0, "limits/derate_return_pct": 22.0}
    assert findings(five) == []


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"limits/full_charge_a": 300.1}, "limits.full_charge_a"),
        ({"limits/cell_taper_end_v": 3.66}, "limits.cell_taper_end_v"),
        ({"limits/cell_derate_end_v": 2.49}, "limits.cell_derate_end_v"),
        ({"bank/min_voltage_v": 57.6}, "bank.min_voltage_v"),
        ({"bank/min_voltage_v": 39.0, "shaft/0/drive/max_speed_rpm": 1201.0, "shaft/1/drive/max_speed_rpm": 1201.0},
         "bank.min_voltage_v"),
        ({"bank/max_voltage_v": 59.7}, "bank.max_voltage_v"),
        ({"shaft/0/drive/motor_derate_start_c": 140.0}, "shaft.port.drive.motor_derate_start_c"),
        ({"shaft/0/drive/inverter_derate_start_c": 85.0}, "shaft.port.drive.inverter_derate_start_c"),
        ({"shaft/1/drive/coolant_derate_end_c": 60.0}, "shaft.starboard.drive.coolant_derate_start_c"),
        ({"shaft/0/engine/torque_curve": [[800.0, 95.0], [800.0, 96.0]]}, "shaft.port.engine.torque_curve"),
        ({"shaft/0/engine/torque_curve": [[800.0, 95.0], [1200.0, -1.0]]}, "shaft.port.engine.torque_curve"),
        ({"shaft/0/engine/torque_curve": [[801.0, 95.0], [3000.0, 90.0]]}, "shaft.port.engine.torque_curve"),
        ({"shaft/0/engine/idle_rpm": 3000.0}, "shaft.port.engine.torque_curve"),
        ({"shaft/0/gearbox/ratio": 2.3}, "shaft.port.drive.max_speed_rpm"),
        ({"inputs/bank.soc_pct/stale_s": 0.019}, "inputs.bank.soc_pct.stale_s"),
        ({"shaft/0/inputs/drive.fault/stale_s": 0.019}, "shaft.port.inputs.drive.fault.stale_s"),
        ({"shaft/0/drive/response_s": 0.11}, "shaft.port.drive.response_s"),
        ({"shaft/0/drive/motor_efficiency": 0.94}, "shaft.port.drive.motor_efficiency"),
    ],
)  # fmt: skip
def test_a_limit_beyond_a_rating_is_an_error(changes: dict[str, Any], key: str) -> None:
    found = [f for f in findings(changes) if f.key == key and f.level == "error"]
    assert found, findings(changes)
    assert all(f.problem and f.remedy for f in found)


@pytest.mark.parametrize(
    "changes",
    [
        {"limits/full_charge_a": 300.0},
        {"limits/cell_taper_end_v": 3.65},
        {"limits/cell_derate_end_v": 2.5},
        {"inputs/bank.soc_pct/stale_s": 0.02},
        {"shaft/0/gearbox/ratio": 2.31},  # 3000 / 2.31 = 1299 rpm
    ],
)
def test_a_limit_at_its_rating_is_allowed(changes: dict[str, Any]) -> None:
    assert errors(changes) == []


# ---- permits: detection 0.1 s + tick 0.02 s + drive response 0.04 s = 0.16 s


@pytest.mark.parametrize("name", ["bank.charge_permit", "bank.discharge_permit", "bank.charge_limit_a",
                                  "bank.discharge_limit_a"])  # fmt: skip
class TestOpeningWarning:
    def test_a_warning_shorter_than_detection_tick_and_response_is_refused(self, name: str) -> None:
        short = [f for f in findings({"bank/opening_warning_s": 0.159}) if f.key == "bank.opening_warning_s"]
        assert any(name in f.problem and f.level == "error" for f in short)
        assert errors({"bank/opening_warning_s": 0.161}) == []

    def test_a_slow_permit_cannot_be_zeroed_in_200_ms(self, name: str) -> None:
        assert errors({f"inputs/{name}/stale_s": 0.139}) == []
        assert errors({f"inputs/{name}/stale_s": 0.141}) == [f"inputs.{name}.stale_s"]

    def test_a_slow_drive_counts_too(self, name: str) -> None:
        assert f"inputs.{name}.stale_s" in errors({"shaft/1/drive/response_s": 0.09})


def test_a_listening_boat_is_not_asked_for_its_monitors_warning() -> None:
    changes = {"bank/opening_warning_s": 0.0, "boat/listen_only": True}
    assert errors(changes) == []


# ---- back-EMF: a permanent-magnet machine rectifies into the link when turned fast


@pytest.mark.sr("SR-42")
class TestBackEmf:
    def test_the_constant_must_be_given(self) -> None:
        found = findings({"shaft/0/drive/back_emf_v_per_krpm": None})
        assert [f.key for f in found if f.level == "error"] == ["shaft.port.drive.back_emf_v_per_krpm"]
        assert "rectif" in found[0].problem

    def test_a_drive_declared_protected_need_not_give_it(self) -> None:
        changes = {"shaft/0/drive/back_emf_v_per_krpm": None, "shaft/0/drive/rectification_protected": True}
        assert errors(changes) == []
        changes = {"shaft/0/drive/back_emf_v_per_krpm": 60.0, "shaft/0/drive/rectification_protected": True}
        assert errors(changes) == []

    def test_the_speed_must_stay_below_the_lowest_bank_voltage(self) -> None:
        # 44.8 V / 34.461 V per 1000 rpm = 1300.02 rpm; / 34.462 = 1299.98 rpm
        assert errors({"shaft/0/drive/back_emf_v_per_krpm": 34.461}) == []
        found = [f for f in findings({"shaft/0/drive/back_emf_v_per_krpm": 34.462}) if f.level == "error"]
        assert [f.key for f in found] == ["shaft.port.drive.max_speed_rpm"]
        assert "1300 rpm" in found[0].problem
        assert "44.8 V" in found[0].problem


# ---- warnings and notes


def test_restart_within_a_percent_of_the_end_warns() -> None:
    found = findings({"limits/charge_restart_pct": 93.5})
    assert [(f.level, f.key) for f in found] == [("warning", "limits.charge_restart_pct")]


def test_a_part_that_is_not_watched_warns() -> None:
    changes = {"inputs/helm.diver_lockout": ..., "inputs/helm.shore_connected": ...,
               "not_fitted": ["helm.diver_lockout", "helm.shore_connected"]}  # fmt: skip
    assert [f.level for f in findings(changes)] == ["warning", "warning"]


def test_a_curve_above_the_rating_warns() -> None:
    curve = [[800.0, 95.0], [3000.0, 145.0]]  # 145 N m at 3000 rpm is 45.6 kW
    assert [f.level for f in findings({"shaft/0/engine/torque_curve": curve})] == ["warning"]


def test_charging_torque_far_above_the_rated_torque_warns() -> None:
    assert [f.level for f in findings({"shaft/0/drive/generate_torque_nm": 166.0})] == ["warning"]
    assert findings({"shaft/0/drive/generate_torque_nm": 165.0}) == []


def test_drives_too_small_for_the_limit_are_a_note() -> None:
    # 2 x 2.6 kW / 44.8 V = 116 A, less than half of 240 A
    small = {"shaft/0/drive/generate_power_kw": 2.6, "shaft/1/drive/generate_power_kw": 2.6}
    assert [f.level for f in findings(small)] == ["note"]


def test_drives_that_can_draw_more_than_the_bank_may_give_warn() -> None:
    found = findings({"bank/max_discharge_a": 499.0})
    assert [(f.level, f.key) for f in found] == [("warning", "bank.max_discharge_a")]
    assert findings({"bank/max_discharge_a": 500.0}) == []


def test_errors_come_first() -> None:
    found = findings({"limits/charge_restart_pct": 93.5, "limits/full_charge_a": 301.0})
    assert [f.level for f in found] == ["error", "warning"]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"limits/charge_end_a": 170.0}, "charging could never restart"),
        ({"limits/cold_c_rate": 0.01}, "0.01C of 600 Ah is below charge_end_a"),
        ({"shaft/0/rules/still_rpm": 30.0, "shaft/0/rules/generate_min_rpm": 30.0}, "a still shaft would generate"),
        ({"limits/lever_ramp_s": 31.0}, "the ramp outlasts unloading"),
        ({"shaft/0/drive/link_tolerance_pct": 100.0}, "an empty link would count as charged"),
        ({"limits/disobey_torque_pct": 100.0}, "any torque would count as zero"),
        ({"limits/disobey_current_a": 1000.0}, "any current would count as zero"),
        ({"limits/lever_hold_s": 3600.0}, "a lost lever's order would stand for an hour"),
        ({"shaft/0/rules/neutral_band_pct": 90.0}, "neutral would be nearly everywhere"),
        ({"shaft/0/rules/generate_min_rpm": 0.0}, "a stalled engine would be loaded"),
        ({"shaft/0/rules/still_rpm": 1000.0}, "a turning shaft would be still"),
        ({"limits/neutral_s": 0.0}, "no neutral would be asked"),
    ],
)  # fmt: skip
def test_a_number_that_switches_a_rule_off_is_not_accepted_in_silence(changes: dict[str, Any], why: str) -> None:
    try:
        found = findings(changes)
    except ConfigError as error:
        found = [Finding("error", error.key, error.problem, error.remedy)]
    assert [f for f in found if f.level in ("error", "warning")], why


@pytest.mark.sr("SR-54")
def test_a_lying_speed_without_a_get_home_switch_is_warned_of() -> None:
    without = {"inputs/helm.get_home": ..., "not_fitted": ["helm.get_home"]}
    found = [one for one in findings(without) if one.level == "warning"]
    assert {one.key for one in found} == {
        f"shaft.{name}.inputs.shaft.propeller_speed_rpm" for name in ("port", "starboard")
    }
    assert all("get-home" in one.problem for one in found)


@pytest.mark.sr("SR-54")
@pytest.mark.parametrize(("changes", "key"), [
    ({"shaft/0/inputs/engine.engine_speed_rpm/stale_s": 0.6}, "shaft.port.inputs.engine.engine_speed_rpm.stale_s"),
    ({"limits/coupling_s": 0.05}, "shaft.port.inputs.shaft.propeller_speed_rpm.stale_s"),
])  # fmt: skip
def test_a_speed_that_comes_too_seldom_is_warned_of(changes: dict[str, Any], key: str) -> None:
    assert any(one.level == "warning" and one.key == key and "late frame" in one.problem for one in findings(changes))
