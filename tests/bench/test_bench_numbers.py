"""Numbers by name: reckoned from the boat file, nothing else, and each mistake has its sentence."""

import math
import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.bench import BenchError, parse_procedure
from sim.bench.bind import has
from sim.bench.numbers import is_formula, names_of, reckoned
from sim.bench.procedure import Need
from sim.cli.app import dispatch
from supervisor.config import BoatConfig, load_config

STEP = 'title = "t"\n[[step]]\nname = "on"\nwait_s = 1\n'


@pytest.fixture(scope="module")
def tern() -> BoatConfig:
    return load_config("marsh_tern")


def one(formula: str, config: BoatConfig) -> object:
    """What a formula comes to, about the first shaft."""
    data = {"step": [{"expect": [{"signal": "first.torque_nm", "op": ">", "value": formula}]}]}
    return reckoned(data, config, "p.toml")["step"][0]["expect"][0]["value"]


@pytest.mark.parametrize(("formula", "number"), [
    ("limits.taper_start_pct + 2", 90.0), ("drive.rated_torque_nm * 0.5", 55.0), ("-drive.rated_torque_nm", -110.0),
    ("(limits.taper_start_pct + limits.taper_end_pct) / 2", 91.0), ("min(20000, bank.max_charge_a)", 260.0),
    ("max(limits.neutral_s)", 0.5), ("2 * starboard.gearbox.ratio - 1", 4.0), ("boat.tick_s", 0.02),
    ("bank.cells_in_series * 3.2", 51.2), ("limits.full_charge_a - 10 - 5", 193.0),
    ("8 / bank.cells_in_series / 2", 0.25),
])  # fmt: skip
def test_it_comes_to(formula: str, number: float, tern: BoatConfig) -> None:
    """By hand from configs/marsh_tern.toml and the defaults of docs/boat-file.md."""
    assert is_formula(formula)
    assert one(formula, tern) == pytest.approx(number)


@pytest.mark.parametrize(("formula", "complaint"), [
    ("limits.taper_strat_pct", "has no number limits.taper_strat_pct; did you mean limits.taper_start_pct?"),
    ("drive.colour", "has no number drive.colour"), ("limits.neutral_s / 0", "divides by zero"),
    ("limits.neutral_s ** 9", "cannot be read"), ("limits.neutral_s +", "cannot be read"),
    ("limits.neutral_s.real", "has no number"), ("abs(limits.neutral_s)", "cannot be read"),
    ("max(limits.neutral_s", "cannot"),
    ("limits.neutral_s * 1e308 * 10 * 10", "comes to no number"), ("limits.neutral_s + " * 30 + "1", "longer than"),
    ("limits.neutral_s.__class__", "has no number"), ("lock.fitted", "has no number lock.fitted"),
])  # fmt: skip
def test_what_it_is_not(formula: str, complaint: str, tern: BoatConfig) -> None:
    with pytest.raises(BenchError, match=r"p\.toml: step 1, expect 1, value: ") as error:
        one(formula, tern)
    assert complaint in str(error.value)


@pytest.mark.parametrize("word", [
    "READY", "engine does not crank: drive not ready", "handset held while a lever is not in neutral", "astern",
    "under_way", "thrust is cut", "1.5", "bank accepts no charging current", "import os", "limits",
    "no charging: monitor.withdrawn",
])  # fmt: skip
def test_a_word_stays_a_word(word: str, tern: BoatConfig) -> None:
    assert not is_formula(word)
    assert one(word, tern) == word


@given(st.text(alphabet="limtsdrve.nuaq_0123456789+-*/() ,", max_size=40))
def test_whatever_is_written_it_is_a_number_a_word_or_a_complaint(text: str) -> None:
    try:
        value = one(text, load_config("reed_warbler"))
    except BenchError:
        return
    assert value == text or (isinstance(value, float) and math.isfinite(value))


def test_names_are_left_alone(tern: BoatConfig) -> None:
    """`bank.soc_pct` is an input, `drive.port` a node, `first.gearbox.neutral` a contact: none is a number here."""
    text = STEP + (
        'inject = [{ fault = "value_stuck", target = "bank.soc_pct" }, { fault = "bad_crc", target = "drive.port" }]\n'
        'expect = [{ signal = "bank.soc_pct", op = "<=", against = "bank.seen_soc_pct" }]\n'
    )
    data: dict[str, Any] = tomllib.loads(text)
    assert reckoned(data, tern, "p") == data


def test_each_shaft_needs_the_same_number(tern: BoatConfig) -> None:
    port, starboard = tern.shaft
    weaker = starboard.model_copy(update={"drive": starboard.drive.model_copy(update={"rated_torque_nm": 80.0})})
    uneven = tern.model_copy(update={"shaft": [port, weaker]})
    for about, number in (("first", 110.0), ("others", 80.0), ("port", 110.0), ("starboard", 80.0)):
        data = {"step": [{"expect": [{"signal": f"{about}.torque_nm", "value": "drive.rated_torque_nm"}]}]}
        assert reckoned(data, uneven, "p")["step"][0]["expect"][0]["value"] == number
    data = {"step": [{"do": {"each": {"lever_pct": "drive.rated_torque_nm / 2"}}}]}
    with pytest.raises(BenchError, match=r"differs between the shafts \(port 55, starboard 40\): name one of them"):
        reckoned(data, uneven, "p")
    same = {"step": [{"do": {"each": {"lever_pct": "starboard.drive.rated_torque_nm / 2"}}}]}
    assert reckoned(same, uneven, "p")["step"][0]["do"]["each"]["lever_pct"] == 40.0


def test_times_jumps_and_faults_take_them_too(tern: BoatConfig) -> None:
    text = 'title = "t"\n[[step]]\nname = "on"\n' + (
        'wait_s = "2 * limits.neutral_s"\nset.bank.soc_pct = "limits.taper_end_pct"\n'
        'inject = [{ fault = "drive_disobeys", target = "port", torque_nm = "drive.rated_torque_nm / 10" }]\n'
        'expect = [{ signal = "boat.mode", value = "READY", within_s = "limits.neutral_wait_s" },\n'
        '{ signal = "bank.soc_pct", between = ["limits.taper_end_pct - 1", 100], tol = "boat.tick_s" }]\n'
    )  # fmt: skip
    (step,) = parse_procedure(text, "p", tern).step
    assert (step.wait_s, step.set, step.inject[0].params) == (1.0, {"bank.soc_pct": 94.0}, {"torque_nm": 11.0})
    assert (step.expect[0].within_s, step.expect[1].between, step.expect[1].tol) == (30.0, (93.0, 100.0), 0.02)


def test_without_a_boat_it_says_what_is_missing() -> None:
    with pytest.raises(BenchError, match="is a number of a boat: read this procedure with its boat file"):
        parse_procedure(STEP + 'set.bank.soc_pct = "limits.taper_end_pct"\n', "p")


def test_every_number_of_a_boat_file_can_be_named(tern: BoatConfig) -> None:
    found = dict(names_of(tern))
    assert found["drive.rated_power_kw"] == found["port.drive.rated_power_kw"] == 8.5
    assert {"limits.derate_rate_pct_per_s", "engine.idle_rpm", "rules.propeller_nm_per_krpm2", "boat.tick_s"} <= set(
        found
    )
    assert all(math.isfinite(value) for value in found.values())


def test_a_procedure_says_what_it_needs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = dispatch(["bench", "reed_warbler", "handset", "--out", str(tmp_path / "run")])
    assert code == 2
    assert "key 'needs': the procedure needs handset, and 'reed_warbler' has none fitted" in capsys.readouterr().err
    assert not (tmp_path / "run").exists()


def test_the_demo_takes_a_boat_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One of somebody's own: other limits, and the same demo fits."""
    from supervisor.config import shipped_path

    text = shipped_path("reed_warbler.toml").read_text(encoding="utf-8")
    changed = text.replace(
        "[limits]\n", "[limits]\ntaper_start_pct = 84.0\ntaper_end_pct = 92.0\ncharge_restart_pct = 87.0\n"
    )
    configs = shipped_path("reed_warbler.toml").parent
    changed = changed.replace('"dbc/', f'"{configs}/dbc/').replace('"plants/', f'"{configs}/plants/')
    file = tmp_path / "own.toml"
    file.write_text(changed, encoding="utf-8")
    assert dispatch(["demo", "--boat", str(file), "--no-plot", "--out", str(tmp_path / "run")]) == 0
    assert "PASS: " in capsys.readouterr().out


def test_a_boat_without_shafts_is_refused_by_what_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert dispatch(["demo", "--boat", "house_bank_24v"]) == 2
    assert "a boat that only listens cannot be simulated" in capsys.readouterr().err
    listens = load_config("house_bank_24v")
    assert one("bank.capacity_ah / 4", listens) == 100.0
    with pytest.raises(BenchError, match=r"has no number drive\.rated_torque_nm"):
        one("drive.rated_torque_nm", listens)


def test_the_page_names_each_need() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "procedures.md").read_text(encoding="utf-8")
    assert [need for need in get_args(Need) if f"`{need}`" not in page] == []


def test_what_is_needed_is_looked_for(tern: BoatConfig) -> None:
    """A boat with all of it, and the same boat with one thing less each time."""
    assert [need for need in get_args(Need) if not has(tern, need)] == []
    port, starboard = tern.shaft

    def without(**parts: object) -> BoatConfig:
        return tern.model_copy(update={"shaft": [port, starboard.model_copy(update=parts)]})

    def deselected(name: str) -> BoatConfig:
        return without(not_fitted=[*starboard.not_fitted, name])

    lacking = {
        "handset": tern.model_copy(update={"not_fitted": ["handset.held"]}),
        "two shafts": tern.model_copy(update={"shaft": [port]}),
        "shaft clutch": without(clutch=starboard.clutch.model_copy(update={"fitted": False})),
        "shaft lock": without(lock=starboard.lock.model_copy(update={"fitted": False})),
        "stop and lock": deselected("shaft.stop_and_lock"),
        "harvest": deselected("shaft.harvest"),
        "charging under way": deselected("shaft.charge_under_way"),
        "charging at rest": deselected("shaft.charge_at_rest"),
    }
    assert set(lacking) == set(get_args(Need))
    for name, boat in lacking.items():
        assert [need for need in get_args(Need) if not has(boat, need)] == [name]
