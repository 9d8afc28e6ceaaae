"""Plant files: what loads, what is refused and how it is said, and the warnings."""

import tomllib
from pathlib import Path

import pytest

from sim.plant import PlantConfigError, load_config, load_plant, make_step, range_warnings, shaft_names
from sim.plant.ranges import quantities

PLANTS = Path(__file__).parents[2] / "configs" / "plants"


def edited(tmp_path, old, new, name="marsh_tern.toml", count=1):
    text = (PLANTS / name).read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "boat.toml"
    path.write_text(text.replace(old, new, count), encoding="utf-8")
    return path


def message(path):
    with pytest.raises(PlantConfigError) as caught:
        load_plant(path)
    return str(caught.value)


def test_the_boats(tern, warbler):
    assert (len(tern.shafts), len(warbler.shafts)) == (2, 1)
    assert shaft_names(PLANTS / "marsh_tern.toml") == ("port", "starboard")
    assert tern.bank.capacity_as == 520.0 * 3600.0
    assert tern.bank.cells == 16.0
    assert (tern.shafts[0].line.clutch_fitted, warbler.shafts[0].line.clutch_fitted) == (1, 0)
    assert warbler.shafts[0].drive.motor_power_w == 5000.0


@pytest.mark.parametrize("name", ["marsh_tern.toml", "reed_warbler.toml"])
def test_our_boats_are_plausible(name):
    assert range_warnings(PLANTS / name) == []


def test_unknown_key_is_refused_by_name(tmp_path):
    text = message(edited(tmp_path, "solar_stc_w", "solar_stc_watts = 3\nsolar_stc_w"))
    assert "boat.toml: supply.solar_stc_watts = 3: this key is not known" in text


def test_missing_key_is_named(tmp_path):
    text = message(edited(tmp_path, "capacity_ah = 520.0\n", ""))
    assert "boat.toml: bank.capacity_ah: this key is required" in text


def test_value_out_of_range_says_what_is_allowed(tmp_path):
    text = message(edited(tmp_path, "pitch_ratio = 0.78", "pitch_ratio = 1.9"))
    assert "shaft.0.propeller.pitch_ratio = 1.9: allowed: at most 1.4" in text


@pytest.mark.parametrize("bad", ['"600"', "true", "nan", "inf", "-5.0"])
def test_a_number_must_be_a_finite_number(tmp_path, bad):
    assert "bank.capacity_ah" in message(edited(tmp_path, "capacity_ah = 520.0", f"capacity_ah = {bad}"))


def test_every_problem_is_listed(tmp_path):
    path = edited(tmp_path, "capacity_ah = 520.0", "capacity_ah = 0.0")
    path.write_text(path.read_text().replace("blades = 3", "blades = 9", 1))
    assert len(message(path).splitlines()) == 2


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("idle_rpm = 800.0", "idle_rpm = 3100.0", "idle_rpm below rated_rpm"),
        ("torque_rpm = [0.0, 400.0", "torque_rpm = [0.0, 0.0", "torque_rpm must rise"),
        ("torque_nm = [0.0, 52.0,", "torque_nm = [52.0,", "the same number of points"),
        ("torque_nm = [0.0, 52.0,", "torque_nm = [0.0, -52.0,", "must not be negative"),
        ("over_speed_rpm = 1600.0", "over_speed_rpm = 1600.0\nmotor_derate_c = 140.0", "must be below motor_max_c"),
        ("mass_kg = 225.0", "mass_kg = 225.0\nocv_soc_frac = [0.0, 1.0]", "the same number of points"),
        (
            "mass_kg = 225.0",
            "mass_kg = 225.0\nocv_soc_frac = [0.1, 1.0]\nocv_cell_v = [3.0, 3.3]",
            "must rise from 0 to 1",
        ),
        ("mass_kg = 225.0", "mass_kg = 225.0\nocv_soc_frac = [0.0, 1.0]\nocv_cell_v = [3.4, 3.3]", "never fall"),
        ("charge_limit_a = 260.0", "charge_limit_a = 260.0\ncharge_on_v = 3.7", "must be below charge_off_v"),
    ],
)
def test_contradictions_are_refused(tmp_path, old, new, words):
    assert words in message(edited(tmp_path, old, new))


def test_unreadable_files(tmp_path):
    assert "cannot be read" in message(tmp_path / "missing.toml")
    path = tmp_path / "broken.toml"
    path.write_text("[hull\n")
    assert "is not valid TOML" in message(path)


def test_one_to_four_shafts(tmp_path):
    text = (PLANTS / "reed_warbler.toml").read_text(encoding="utf-8")
    head, shaft = text.split("[[shaft]]")
    path = tmp_path / "boat.toml"
    path.write_text(head + ("[[shaft]]" + shaft) * 4)
    assert len(load_plant(path).shafts) == 4
    path.write_text(head + ("[[shaft]]" + shaft) * 5)
    assert "shaft" in message(path)
    path.write_text(head)
    assert "shaft: this key is required" in message(path)
    with pytest.raises(ValueError, match="1 to 4 shafts"):
        make_step(5)


def test_range_warnings_name_value_unit_range_and_source(tmp_path):
    warnings = range_warnings(edited(tmp_path, "capacity_ah = 520.0", "capacity_ah = 520.0\nr0_mohm = 12.0"))
    assert len(warnings) == 1
    assert warnings[0].startswith("bank.r0_mohm = 12 mohm: outside the plausible range 0.05 to 3")
    assert range_warnings(load_config(PLANTS / "marsh_tern.toml")) == []


def test_every_number_has_unit_source_and_range():
    listed = quantities(load_config(PLANTS / "marsh_tern.toml"))
    raw = tomllib.loads((PLANTS / "marsh_tern.toml").read_text())
    assert len(listed) > 150
    for key, value, unit, low, high, source in listed:
        assert unit, key
        assert source, key
        assert low < high, key
        assert low <= value <= high, key
    keys = {key for key, *_ in listed}
    for key in raw["hull"]:
        assert f"hull.{key}" in keys
