"""`thwart check` and `thwart prove` on what a newcomer gets wrong: each mistake is named where it stands."""

from pathlib import Path

import pytest
from support import CONFIGS, complaint, edited, thwart


def plant(folder: Path, *edits: tuple[str, str]) -> Path:
    """A copy of marsh_tern whose simulated boat is edited."""
    file = edited(folder, ('plant = "plants/marsh_tern.toml"', 'plant = "mine.toml"'))
    text = (CONFIGS / "plants" / "marsh_tern.toml").read_text()
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "mine.toml").write_text(text)
    return file


def test_every_complaint_is_shown_at_once(tmp_path: Path) -> None:
    file = edited(tmp_path, ("capacity_ah", "capacty_ah"), ("tick_s = 0.02", "tick_s = 20"))
    lines = complaint(thwart("check", str(file))).splitlines()
    assert len(lines) == 3
    assert "bank.capacty_ah: unknown key. Did you mean capacity_ah?" in lines[0]
    assert any("boat.tick_s: 20 is not allowed. Allowed: 0.005 to 0.1" in line for line in lines)
    assert any("bank.capacity_ah: is missing" in line for line in lines)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('"dbc/rvc_bank.dbc"', '"dbc/rvc_bnak.dbc"', "buses.private.dbc: file not found: {folder}/dbc/rvc_bnak.dbc"),
        ("plants/marsh_tern", "plants/mash_tern", "simulation.plant: file not found: {folder}/plants/mash_tern.toml"),
    ],
)
def test_a_file_that_is_not_there_is_told_with_the_key_that_names_it(
    tmp_path: Path, old: str, new: str, key: str
) -> None:
    file = edited(tmp_path, (old, new))
    assert f"{file}: error: {key.format(folder=tmp_path)}" in complaint(thwart("check", str(file)))


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (
            ("cells_in_series = 16", "cells_in_series = 8"),
            "bank.cells_in_series: 16 here, but the simulated boat has 8",
        ),
        (("capacity_ah = 520.0", "capacity_ah = 60.0"), "bank.capacity_ah: 520 here, but the simulated boat has 60"),
        (("warning_s = 2.0", "warning_s = 20.0"), "bank.opening_warning_s: 2 here"),
        (("charge_limit_a = 260.0", "charge_limit_a = 900.0"), "bank.max_charge_a: 260 here"),
        (("ratio_ahead = 2.5", "ratio_ahead = 2.0"), "shaft.port.gearbox.ratio: 2.5 here"),
        (("clutch_fitted = true", "clutch_fitted = false"), "shaft.port.clutch.fitted: true here"),
        (("max_torque_nm = 120.0", "max_torque_nm = 80.0"), "shaft.port.drive.rated_torque_nm: 110 here"),
        (("emf_v_per_1000rpm = 29.0", "emf_v_per_1000rpm = 40.0"), "shaft.port.drive.back_emf_v_per_krpm: 32 here"),
        (("max_torque_nm = 120.0", "max_torque_nm = 400.0"), "more, 400 N m (shaft.0.drive.max_torque_nm of its file)"),
        (("generator_power_kw = 5.7", "generator_power_kw = 2.0"), "shaft.0.drive.generator_power_kw of its file"),
        (("generator_power_kw = 5.7", "generator_power_kw = 40.0"), "shaft.0.drive.generator_power_kw of its file"),
        (
            (
                "[0.0, 52.0, 90.0, 110.0, 120.0, 122.5, 120.5, 114.0, 108.5, 100.0]",
                "[0.0, 10.0, 18.0, 22.0, 24.0, 24.5, 24.0, 23.0, 21.5, 20.0]",
            ),
            "shaft.0.engine.torque_nm of its file",
        ),
        (("coupling_rated_nm = 240.0", "coupling_rated_nm = 30.0"), "shaft.0.line.coupling_rated_nm of the simulated"),
        (("clutch_capacity_nm = 800.0", "clutch_capacity_nm = 60.0"), "shaft.0.gearbox.clutch_capacity_nm of the"),
        (("displacement_kg = 20000.0", "displacement_kg = 5000.0"), "weighs 5000 kg (hull.displacement_kg)"),
        (("over_speed_rpm = 1600.0", "over_speed_rpm = 1100.0"), "shaft.0.drive.over_speed_rpm of its file"),
        (("diameter_m = 0.50", "diameter_m = 500.0"), "mine.toml: shaft.0.propeller.diameter_m = 500 m: outside"),
        (("solar_stc_w = 1200.0", "solar_stc_w = 1200.0\nhotel_drops_out_v = 46.0"), "where hotel loads drop out"),
    ],
)
def test_a_simulated_boat_that_is_another_boat_warns_and_is_counted(
    tmp_path: Path, edit: tuple[str, str], words: str
) -> None:
    done = thwart("check", "--quick", str(plant(tmp_path, edit)))
    assert done.returncode == 0, done.stderr
    assert words in done.stdout
    assert "0 errors, 1 warning or note\n" in done.stdout


def test_a_simulated_boat_with_its_shafts_crossed_is_refused_as_the_bench_does(tmp_path: Path) -> None:
    file = plant(tmp_path, ('name = "port"', 'name = "x"'), ('name = "starboard"', 'name = "port"'),
                 ('name = "x"', 'name = "starboard"'))  # fmt: skip
    text = complaint(thwart("check", str(file)), status=1)
    assert "simulation.plant" in text
    assert "has the shafts starboard, port, the boat port, starboard" in text


def test_a_simulated_boat_with_other_names_only_warns_for_the_bench_goes_by_order(tmp_path: Path) -> None:
    done = thwart("check", "--quick", str(plant(tmp_path, ('name = "starboard"', 'name = "stb"'))))
    assert done.returncode == 0, done.stderr
    assert "has the shafts port, stb, the boat port, starboard" in done.stdout
    assert "0 errors, 1 warning or note\n" in done.stdout


def test_every_shipped_boat_checks_without_a_finding() -> None:
    for boat in ("marsh_tern", "reed_warbler", "house_bank_24v"):
        done = thwart("check", boat)
        assert "0 errors, 0 warnings and notes" in done.stdout, done.stdout


def test_quick_tries_nothing_on_the_simulated_boat_and_finds_the_same() -> None:
    whole, quick = thwart("check", "reed_warbler"), thwart("check", "--quick", "reed_warbler")
    tried = [line for line in whole.stdout.splitlines() if line.startswith(("astern: ", "stop and lock: "))]
    assert tried
    *findings, last = [line for line in whole.stdout.splitlines() if line not in tried]
    assert quick.stdout.splitlines() == [*findings, "not tried (--quick): astern, stop and lock", last]


def test_a_drive_that_draws_nearly_what_counts_as_disobeying_is_said(tmp_path: Path) -> None:
    """205 W at 1296 rpm, as the simulated boat has it, against 5 A at 44.8 V, 224 W, without a declaration."""
    done = thwart("check", "--quick", str(edited(tmp_path, ("no_load_loss_w = 200.0", "no_load_loss_w = 0.0"))))
    assert done.returncode == 0, done.stderr
    assert "no torque ordered at 1296 rpm the simulated drive draws 4.6 A (205 W)" in done.stdout
    assert "5.0 A count as disobeying" in done.stdout


def test_cables_are_told_with_drop_and_fuse() -> None:
    said = thwart("check", "--quick", "marsh_tern").stdout
    # by hand: 2 x 4 m x 0.0193 / 95 mm2 at 40 degC, 0.1 mohm and 24 W at 300 A: 2.12 mohm; 207 A: 0.44 V
    assert "cable of drive port (shaft.0.drive.cable): 4 m one way, 95 mm2, at 207 A" in said
    assert "0.44 V lost (1.0 %), 91 W; its fuse of 300 A is loaded to 69 %" in said
    assert said.count("local code") == 1


def test_a_fuse_that_the_boat_can_blow_and_a_cable_that_is_too_thin(tmp_path: Path) -> None:
    said = thwart("check", "--quick", str(plant(tmp_path, ("fuse_a = 630.0", "fuse_a = 400.0")))).stdout
    assert (
        "warning: simulation.plant: the fuse of the bank (supply.bank_cable) is rated 400 A, and 520 A may flow" in said
    )
    (tmp_path / "thin").mkdir()
    thin = ("length_m = 4.0\nsection_mm2 = 95.0", "length_m = 20.0\nsection_mm2 = 10.0")
    said = thwart("check", "--quick", str(plant(tmp_path / "thin", thin))).stdout
    assert "warning: shaft.port.drive.link_tolerance_pct: between bank and drive" in said
    assert "isolates the shaft" in said


def test_a_boat_without_cables_in_its_plant_file_loses_nothing(tmp_path: Path) -> None:
    text = (CONFIGS / "plants" / "marsh_tern.toml").read_text()
    start = text.index("[supply.bank_cable]")
    table = text[start : text.index("[[shaft]]", start)]
    drive = text[text.index("[shaft.drive.cable]") : text.index("[shaft.line]")]
    file = plant(tmp_path, (table, ""), (drive, ""), (drive, ""))
    assert "cable" not in thwart("check", "--quick", str(file)).stdout


def test_an_interface_that_nobody_knows_and_two_protocols_on_one_bus_warn(tmp_path: Path) -> None:
    file = edited(
        tmp_path, ('interface = "virtual"', 'interface = "virtul"'),
        ('dbc = ["dbc/nmea2000.dbc"]', 'dbc = ["dbc/nmea2000.dbc", "dbc/rvc_bank.dbc"]'),
    )  # fmt: skip
    done = thwart("check", "--quick", str(file))
    assert done.returncode == 0, done.stderr
    assert "buses.private.interface: python-can here knows no interface 'virtul'" in done.stdout
    assert "buses.backbone.dbc: RV-C and NMEA 2000 use the same numbers" in done.stdout
    assert "0 errors, 2 warnings and notes" in done.stdout


def test_nothing_is_proven_of_a_boat_that_only_listens() -> None:
    """It would be "proven" with no claim at all, and status 0."""
    assert "boat.listen_only" in complaint(thwart("prove", "house_bank_24v"))


def test_the_matrix_wants_a_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert "is a file; give a folder" in complaint(thwart("prove", "marsh_tern", "--matrix", str(tmp_path / "file")))


def test_misspelt_keys_signals_and_limits_are_told_in_one_go(tmp_path: Path) -> None:
    """Each used to hide the next: an unknown key a misspelt signal, and that a limit beyond a rating."""
    file = edited(
        tmp_path,
        ("capacity_ah = 520.0", "capacty_ah = 520.0"),
        ('message = "LEVER_{unit}", signal = "Position"', 'message = "LEVER_{unit}", signal = "Postion"'),
        ('message = "DRIVE_A_{unit}", signal = "Speed"', 'message = "DRIVE_A_{unit}", signal = "Sped"'),
        ('message = "STATUS", signal = "Derate"', 'message = "STATUS", signal = "Drate"'),
        ("full_charge_a = ", "full_charge_a = 900.0 # "),
        ('plant = "plants/marsh_tern.toml"', 'plant = "plants/marsh_tern.toml" # as it was'),
    )
    said = thwart("check", "--quick", str(file))
    assert said.returncode == 2
    for told in (
        "bank.capacty_ah: unknown key. Did you mean capacity_ah?",
        "shaft.port.inputs.lever.lever_pct.signal: LEVER_1 has no signal 'Postion'. Did you mean Position?",
        "shaft.starboard.inputs.drive.machine_speed_rpm.signal: DRIVE_A_2 has no signal 'Sped'. Did you mean Speed?",
        "outputs.boat.derate_pct.signal: STATUS has no signal 'Drate'. Did you mean Derate?",
        "error: limits.full_charge_a",
    ):
        assert told in said.stderr, told


def test_a_key_that_is_missing_altogether_stops_there(tmp_path: Path) -> None:
    said = thwart("check", str(edited(tmp_path, ("capacity_ah = 520.0", ""))))
    assert said.returncode == 2
    assert said.stderr.splitlines() == [
        f"thwart: {tmp_path / 'boat.toml'}: error: bank.capacity_ah: is missing. Add capacity_ah under [bank]"
    ]


def test_nothing_but_check_takes_a_key_for_what_it_was_meant(tmp_path: Path) -> None:
    file = edited(tmp_path, ("capacity_ah = 520.0", "capacty_ah = 520.0"))
    said = thwart("bench", str(file), str(CONFIGS / "procedures" / "first.toml"), "--out", str(tmp_path / "run"))
    assert said.returncode == 2
    assert "bank.capacty_ah: unknown key" in said.stderr
