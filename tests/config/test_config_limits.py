"""From the file to the frozen limits: units, defaults of the specification (typed by hand), masks of reactions."""

import pytest
from boatyard.boats import frozen

from supervisor.signals import BoatInput, ShaftInput

BOAT = frozen()
LIMITS, PORT = BOAT.limits, BOAT.shafts[0]

DEFAULTS = {
    # design, section 5; the numbers in square brackets there
    "taper_start_pct": 88.0, "taper_end_pct": 94.0, "charge_end_a": 10.0, "charge_restart_pct": 91.0,
    "cell_taper_start_v": 3.45, "cell_taper_end_v": 3.55, "cold_zero_c": 0.0, "cold_full_c": 10.0,
    "cold_limit_a": 120.0,  # 0.2C of 600 Ah
    "hot_zero_c": 45.0, "reminder_s": 30.0 * 86400.0, "derate_start_pct": 26.0, "derate_end_pct": 18.0,
    "derate_return_pct": 21.0, "derate_floor_pct": 15.0, "derate_rate_pct_per_s": 2.0,
    "cell_derate_start_v": 3.0, "cell_derate_end_v": 2.8, "unknown_soc_pct": 50.0, "time_to_limit_s": 900.0,
    "handset_thrust_pct": 50.0, "handset_low_minutes": 15.0, "neutral_s": 0.5, "neutral_wait_s": 30.0,
    "idle_reminder_s": 600.0, "idle_off_s": 300.0, "tick_s": 0.02,
}  # fmt: skip

SHAFT_DEFAULTS = {
    "generate_min_rpm": 100.0, "charge_rise_a_per_s": 4.0, "charge_fall_a_per_s": 40.0, "headroom": 0.8,
    "link_tolerance": 0.05, "disobey_torque_nm": 5.5, "disobey_current_a": 5.0, "disobey_s": 0.1,
    "close_within_rpm": 30.0, "lock_still_s": 2.0, "lever_ramp_s": 3.0, "rated_power_w": 10000.0,
    "generate_power_w": 6000.0, "propeller_k": 205.0e-6, "harvest_k": 90.0e-6, "ratio": 2.5,
}  # fmt: skip


@pytest.mark.parametrize("name", DEFAULTS)
def test_a_default_of_the_boat_is_the_specifications(name: str) -> None:
    assert getattr(LIMITS, name) == pytest.approx(DEFAULTS[name], rel=1e-12)


@pytest.mark.parametrize("name", SHAFT_DEFAULTS)
def test_a_default_of_a_shaft_is_the_specifications(name: str) -> None:
    assert getattr(PORT, name) == pytest.approx(SHAFT_DEFAULTS[name], rel=1e-12)


def test_trailing_is_not_allowed_unless_the_file_says_so() -> None:
    assert frozen({"shaft/0/gearbox": {"ratio": 2.5}}).shafts[0].trailing_allowed == 0


def test_a_short_torque_curve_is_padded_by_its_last_point() -> None:
    assert PORT.curve_rpm == (800.0, 1200.0, 1600.0, 2000.0, 3000.0, 3000.0, 3000.0, 3000.0)
    assert PORT.curve_nm == (95.0, 125.0, 140.0, 145.0, 127.0, 127.0, 127.0, 127.0)


def test_every_number_is_a_float_and_every_flag_an_int() -> None:
    """numba: a field that is sometimes int and sometimes float does not unify."""
    from supervisor.config import BoatLimits, ShaftLimits

    for values in (LIMITS, PORT, *frozen(shafts=4).shafts):
        for name, kind in type(values).__annotations__.items():
            value = getattr(values, name)
            if kind in (float, "float"):
                assert type(value) is float, name
            elif kind in (int, "int"):
                assert type(value) is int, name
    assert isinstance(LIMITS, BoatLimits)
    assert isinstance(PORT, ShaftLimits)


BOAT_REACTIONS = {
    # design, section 5, "Trips and reactions"; what it does not name is the register's
    "trip_boat": BoatInput.CONTACTOR_CLOSED | BoatInput.MONITOR_FAULT | BoatInput.MONITOR_OPENING
    | BoatInput.EMERGENCY_STOP | BoatInput.DISABLE,
    "inhibit_charge": BoatInput.CHARGE_PERMIT | BoatInput.CHARGE_LIMIT | BoatInput.CELL_MAX | BoatInput.CELL_HOT
    | BoatInput.CELL_COLD,
    "derate": BoatInput.SOC | BoatInput.CELL_MIN,
}  # fmt: skip


@pytest.mark.parametrize("name", BOAT_REACTIONS)
def test_the_boats_inputs_carry_their_reaction(name: str) -> None:
    mask = getattr(LIMITS.react, name)
    assert mask & int(BOAT_REACTIONS[name]) == int(BOAT_REACTIONS[name])


def test_a_shafts_inputs_carry_their_reaction() -> None:
    assert PORT.react.ramp_down & int(ShaftInput.LEVER)
    assert PORT.react.ramp_down & int(ShaftInput.LEVER_NEUTRAL)
    trip = (
        ShaftInput.MACHINE_SPEED | ShaftInput.TORQUE | ShaftInput.CURRENT | ShaftInput.LINK_VOLTAGE
        | ShaftInput.DRIVE_FAULT
    )  # fmt: skip
    assert PORT.react.trip_shaft & int(trip) == int(trip)
    assert PORT.react.trip_boat == 0


def test_a_chosen_reaction_takes_effect() -> None:
    chosen = frozen(
        {"inputs/bank.soc_pct/reaction": "trip_boat", "shaft/1/inputs/lever.neutral/reaction": "trip_shaft"}
    )
    assert chosen.limits.react.trip_boat & int(BoatInput.SOC)
    assert chosen.shafts[1].react.trip_shaft & int(ShaftInput.LEVER_NEUTRAL)
    assert not chosen.shafts[0].react.trip_shaft & int(ShaftInput.LEVER_NEUTRAL)


def test_what_is_mapped_is_remembered() -> None:
    without = frozen({"inputs/handset.held": ..., "not_fitted": ["handset.held"]})
    assert not without.limits.react.mapped & int(BoatInput.HANDSET_HELD)
    assert LIMITS.react.mapped & int(BoatInput.HANDSET_HELD)
    assert not LIMITS.react.mapped & int(BoatInput.RECEIVE_OK)
