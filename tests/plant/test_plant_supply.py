"""DC bus, hotel, shore, solar, weather."""

import math
import statistics

import pytest

from sim.plant import initial_state, run, with_soc, with_temperature
from sim.plant.params import SupplyParams
from sim.plant.supply import open_bus_voltage, solar_power
from sim.plant.weather import (
    clear_sky_irradiance,
    clearness_days,
    cos_zenith,
    diffuse_fraction,
    hotel_load,
    shaded_irradiance,
)


def test_solar_power_by_hand(tern):
    # 1200 W array, 900 W/m2, cell 20 + (46 - 20)/800 x 900 = 49.25 degC, -0.35 %/K, 0.88 system
    expected = 1200.0 * 0.9 * (1.0 - 0.0035 * 24.25) * 0.88
    assert solar_power(tern.supply, 900.0, 20.0) == pytest.approx(expected)
    assert solar_power(tern.supply, 0.0, 20.0) == 0.0


def test_solar_power_is_pvwatts(tern):
    # facts: pvlib pvwatts_dc(900, 30, 100, -0.003) = 88.65 W
    p = tern.supply._replace(
        solar_stc_w=100.0, solar_gamma_per_k=-0.003, solar_system_eff=1.0, solar_noct_k_per_w_m2=0.0
    )
    assert solar_power(p, 900.0, 30.0) == pytest.approx(88.65)
    pvlib = pytest.importorskip("pvlib")
    for g, t in ((200.0, 10.0), (900.0, 30.0), (1050.0, 60.0)):
        assert solar_power(p, g, t) == pytest.approx(float(pvlib.pvsystem.pvwatts_dc(g, t, 100.0, -0.003)))


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore:.*dayofyear.*")
@pytest.mark.parametrize(("latitude", "longitude"), [(58.5, 11.0), (36.8, -5.3)])
@pytest.mark.parametrize("date", ["2025-06-21", "2025-03-20", "2025-12-10"])
def test_clear_day_against_pvlib(latitude, longitude, date):
    """Sun position against pvlib's NREL algorithm, and clear-sky energy against its Ineichen and Haurwitz models."""
    pvlib = pytest.importorskip("pvlib")
    import pandas as pd

    times = pd.date_range(date, periods=24 * 12, freq="5min", tz="UTC")
    place = pvlib.location.Location(latitude, longitude, altitude=0.0)
    sun = place.get_solarposition(times)
    day = int(times[0].strftime("%j"))
    ours = [cos_zenith(latitude, longitude, day, t.hour + t.minute / 60.0) for t in times]
    worst = max(abs(math.degrees(math.acos(c)) - z) for c, z in zip(ours, sun["zenith"], strict=True) if z < 85.0)
    assert worst < 0.05
    energy = sum(clear_sky_irradiance(c, day, 3.0) for c in ours) / 12.0
    haurwitz = float(place.get_clearsky(times, model="haurwitz")["ghi"].sum()) / 12.0
    ineichen = float(place.get_clearsky(times, model="ineichen", linke_turbidity=3.0)["ghi"].sum()) / 12.0
    # pvlib lifts the sun by refraction, which tells on a winter day of 8 degrees at most
    assert energy == pytest.approx(ineichen, rel=0.05 if date == "2025-12-10" else 0.02)
    if date != "2025-12-10":
        # another author's formula, which knows no turbidity and overstates a low winter sun
        assert energy == pytest.approx(haurwitz, rel=0.10)


def test_clearness_is_seeded_bounded_and_persistent():
    days = clearness_days(4, 20_000)
    assert days == clearness_days(4, 20_000)
    assert days != clearness_days(5, 20_000)
    assert all(0.08 <= k <= 1.0 for k in days)
    free = clearness_days(4, 20_000, mean=0.55, deviation=0.1)
    assert statistics.mean(free) == pytest.approx(0.55, abs=0.01)
    assert statistics.stdev(free) == pytest.approx(0.1, abs=0.01)
    # "A time series model for Kt", Solar Energy 40(2), 1988: lag-one correlation 0.29
    assert statistics.correlation(free[:-1], free[1:]) == pytest.approx(0.29, abs=0.03)


def test_sail_shading_takes_the_beam_only():
    cosine = 0.8
    g = clear_sky_irradiance(cosine)
    diffuse = g * diffuse_fraction(g, cosine)
    assert 0.1 < diffuse / g < 0.35, "clear sky is mostly beam"
    assert shaded_irradiance(g, cosine, 0.0) == pytest.approx(g)
    assert shaded_irradiance(g, cosine, 1.0) == pytest.approx(diffuse)
    overcast = 0.15 * g
    assert shaded_irradiance(overcast, cosine, 1.0) > 0.95 * overcast, "an overcast sky casts no shade"
    assert diffuse_fraction(10.0, -0.1) == 1.0
    assert diffuse_fraction(1361.0 * 0.9, 1.0) == 0.165


def test_night_is_dark():
    assert cos_zenith(50.0, 0.0, 172, 0.0) < 0.0
    assert clear_sky_irradiance(-0.2) == 0.0


def test_hotel_schedule():
    schedule = ((6.0, 250.0), (22.0, 90.0))
    assert [hotel_load(schedule, h) for h in (0.0, 5.9, 6.0, 12.0, 21.99, 22.0)] == [
        90.0,
        90.0,
        250.0,
        250.0,
        250.0,
        90.0,
    ]


def test_hotel_solar_and_shore_add_up_at_the_bank(tern, order):
    boat = {"hotel_load_w": 400.0, "irradiance_w_m2": 800.0, "shore_charge_a": 45.0}
    state = run(tern, initial_state(tern), order(tern, boat), 2.0)
    bus = state.bus
    assert bus.hotel_current_a == pytest.approx(400.0 / state.bank.terminal_v, rel=1e-3)
    assert bus.shore_current_a == pytest.approx(45.0, rel=1e-3)
    assert state.bank.current_a == pytest.approx(
        bus.solar_current_a + bus.shore_current_a - bus.hotel_current_a, rel=1e-6
    )
    more = run(tern, state, order(tern, {"shore_charge_a": 500.0}), 2.0)
    assert more.bus.shore_current_a == pytest.approx(60.0, rel=1e-3), "no more than the charger can give"


def test_stop_output_and_open_contactor_stop_other_sources(tern, order):
    boat = {"irradiance_w_m2": 800.0, "shore_charge_a": 45.0}
    state = run(tern, initial_state(tern), order(tern, boat), 1.0)
    stopped = run(tern, state, order(tern, {**boat, "other_charge_stop": 1}), 0.3)
    assert abs(stopped.bus.solar_current_a) + abs(stopped.bus.shore_current_a) < 0.1
    opened = run(tern, state, order(tern, {**boat, "contactor_switch": 0}), 0.5)
    assert opened.bank.current_a == 0.0
    assert abs(opened.bus.shore_current_a) < 0.1


def test_sources_taper_at_the_absorption_voltage(tern, order):
    state = with_soc(tern, initial_state(tern), 99.6)
    state = run(tern, state, order(tern, {"shore_charge_a": 60.0}), 600.0, 0.05)
    assert state.bus.bus_v < 16 * 3.5 + 0.3
    assert state.bus.shore_current_a < 30.0


def test_blackout_when_the_bank_goes(tern, order):
    state = run(tern, initial_state(tern), order(tern, {"hotel_load_w": 300.0}), 1.0)
    state = run(tern, state, order(tern, {"hotel_load_w": 300.0, "contactor_switch": 0}), 2.0)
    assert state.bus.hotel_current_a == 0.0
    assert state.bus.bus_v < 40.0


def test_open_bus_energy():
    p = SupplyParams(0.01, 1e12, 40.0, 0.0, 0.0, 0.0, 1.0, 0.0, 56.0, 0.03, 0.0)
    # 1/2 C V^2: 51.2 V x 10 A for 10 ms into 10 mF
    expected = math.sqrt(51.2**2 + 2 * 51.2 * 10.0 * 0.01 / 0.01)
    assert open_bus_voltage(p, 51.2, 10.0, 0.0, 1e9, 0.0, 0.0, 0.01) == pytest.approx(expected)
    # never above the trip plus 0.5 ms of current
    assert open_bus_voltage(p, 51.2, 200.0, 0.0, 64.0, 0.0, 0.0, 0.05) == pytest.approx(64.0 + 0.0005 * 200.0 / 0.01)
    assert open_bus_voltage(p, 51.2, -100.0, 0.0, 64.0, 0.0, 0.0, 0.05) == 0.0


def test_diodes_that_block_hold_no_bus_down():
    """A source feeds 40 A onto a bus whose diodes stand 5 V below it: they carry nothing, and the bus rises as if they
    were not there. Just below what is behind them they feed it."""
    p = SupplyParams(0.01, 1e3, 40.0, 0.0, 0.0, 0.0, 1.0, 0.0, 56.0, 0.03, 0.0)
    without = open_bus_voltage(p, 51.2, 40.0, 0.0, 1e9, 0.0, 0.0, 0.001)
    assert open_bus_voltage(p, 51.2, 40.0, 0.0, 1e9, 10.0, 46.2, 0.001) == without
    assert open_bus_voltage(p, 45.0, -4.0, 0.0, 1e9, 10.0, 46.2, 1.0) == pytest.approx(46.2 - 0.4, abs=0.01)


def test_with_soc_and_with_temperature(tern):
    state = initial_state(tern, 70.0, 20.0)
    low = with_soc(tern, state, 21.0)
    assert (low.bank.soc_pct, low.monitor.soc_pct) == (21.0, 21.0)
    assert low.bank.terminal_v < state.bank.terminal_v
    cold = with_temperature(tern, state, -3.0)
    assert (cold.bank.core_c, cold.bank.edge_c) == (-3.0, -3.0)
    assert cold.bank.resistance_ohm > 1.5 * state.bank.resistance_ohm
    assert cold.shafts == state.shafts
