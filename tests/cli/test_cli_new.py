"""`thwart new`: ratings in, a boat out that passes check and bench; what does not go together is refused."""

import io
import tomllib
from pathlib import Path

import pytest

from sim.cli.app import dispatch
from sim.cli.new import QUESTIONS
from sim.cli.new_boat import edited, ratings_of
from sim.plant.loading import load_config as load_plant
from supervisor.config import load_config

BOATS = {
    "one": "--shafts 1",
    "two": "--shafts 2",
    "larger": "--shafts 1 --capacity-ah 400 --torque-nm 90 --power-kw 7",
    "24 V": "--shafts 1 --cells 8 --capacity-ah 300 --max-charge-a 150 --max-discharge-a 300 --torque-nm 30 "
    "--power-kw 2.5 --generate-kw 1.5 --engine-kw 12 --waterline-m 6.5 --displacement-kg 2200",
    "large": "--shafts 2 --capacity-ah 1200 --max-charge-a 600 --max-discharge-a 1200 --torque-nm 220 --power-kw 20 "
    "--generate-kw 12 --speed-rpm 1300 --engine-kw 80 --engine-rpm 3200 --waterline-m 17 --displacement-kg 38000",
}


@pytest.fixture(autouse=True)
def nobody_at_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))


@pytest.mark.parametrize("name", BOATS)
def test_it_passes_check_and_its_first_procedure(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "boat"
    assert dispatch(["new", "grey_heron", "--folder", str(folder), *BOATS[name].split()]) == 0
    file = folder / "grey_heron.toml"
    capsys.readouterr()
    assert dispatch(["check", "--quick", str(file)]) == 0
    assert "0 errors, 0 warnings and notes" in capsys.readouterr().out
    first = str(folder / "first.toml")
    assert dispatch(["bench", str(file), first, "--no-plot", "--out", str(tmp_path / "run")]) == 0
    said = capsys.readouterr().out
    assert "PASS: 9 steps" in said
    assert " 0 violated" in said


def test_what_is_entered_is_what_is_written(tmp_path: Path) -> None:
    folder = tmp_path / "boat"
    assert (
        dispatch(["new", "grey_heron", "--folder", str(folder), *BOATS["24 V"].split(), "--title", 'The "Heron"']) == 0
    )
    config, plant = load_config(folder / "grey_heron.toml"), load_plant(folder / "plant.toml")
    assert (config.boat.name, config.boat.title) == ("grey_heron", 'The "Heron"')
    assert (config.bank.cells_in_series, config.bank.capacity_ah, config.bank.max_charge_a) == (8, 300.0, 150.0)
    (shaft,) = config.shaft
    assert (shaft.drive.rated_torque_nm, shaft.drive.rated_power_kw, shaft.engine.rated_power_kw) == (30.0, 2.5, 12.0)
    assert plant.hull.displacement_kg == 2200.0
    assert plant.shaft[0].engine.torque_nm[-2] * 3000.0 * 0.10472 == pytest.approx(12_000.0, rel=0.01)  # P = T w
    text = (folder / "grey_heron.toml").read_text()
    assert "reed_warbler" not in text
    assert "marsh_tern" not in text


def test_its_channels_are_its_own(tmp_path: Path) -> None:
    """Two boats on one computer must not hear each other."""
    for name in ("one", "other"):
        assert dispatch(["new", name, "--folder", str(tmp_path / name)]) == 0
    one, other = (load_config(tmp_path / name / f"{name}.toml").buses for name in ("one", "other"))
    assert not {bus.channel for bus in one.values()} & {bus.channel for bus in other.values()}


@pytest.mark.parametrize(("args", "words"), [
    (("Grey-Heron",), "'Grey-Heron' is no name for a boat"),
    (("x", "--torque-nm", "1e9"), "--torque-nm 1e+09 is not allowed: 5 to 2000 N m"),
    (("x", "--torque-nm", "nan"), "--torque-nm nan is not allowed"),
    (("x", "--cells", "8.5"), "--cells 8.5 is not allowed: give a whole number"),
    (("x", "--speed-rpm", "800"),
     "these ratings do not go together, nothing is written:\nshaft.main.drive.max_speed_rpm"),
])  # fmt: skip
def test_what_cannot_be_is_refused_and_nothing_is_written(
    args: tuple[str, ...], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "boat"
    assert dispatch(["new", *args, "--folder", str(folder)]) == 2
    assert words in capsys.readouterr().err
    assert not folder.exists()


def test_a_folder_that_is_there_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mine.txt").write_text("kept")
    assert dispatch(["new", "x", "--folder", str(tmp_path)]) == 2
    assert "is there already; name another --folder" in capsys.readouterr().err
    assert (tmp_path / "mine.txt").read_text() == "kept"


def test_at_a_terminal_it_asks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Enter takes the number in brackets; what is no number is asked again; a comma is a point."""
    asked: list[str] = []
    said = iter(["1", "450", "", "lots", "9999999", "300", *[""] * 20])

    def answer(text: str) -> str:
        asked.append(text)
        return next(said)

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr("builtins.input", answer)
    folder = tmp_path / "boat"
    assert dispatch(["new", "x", "--folder", str(folder), "--torque-nm", "75"]) == 0
    bank = load_config(folder / "x.toml").bank
    assert (bank.capacity_ah, bank.cells_in_series, bank.max_charge_a) == (450.0, 16, 300.0)
    assert asked[1] == "capacity of the bank, A h [300]: "
    assert len(asked) == 1 + len(QUESTIONS) - 1 + 2  # shafts, all but the torque, and two that were asked again


def test_nobody_answers_any_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    def gone(_text: str) -> str:
        raise EOFError

    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr("builtins.input", gone)
    assert dispatch(["new", "x", "--folder", str(tmp_path / "boat")]) == 2
    assert "no answer, nothing is written" in capsys.readouterr().err
    assert not (tmp_path / "boat").exists()


def test_edits_stay_in_their_table() -> None:
    text = (
        'name = "a" # said\n[one]\nx = 1.0 # watts\ny = 2\n[two]\nx = 3 # 3 times\n[[three]]\nz = 1\n[[three]]\nz = 2\n'
    )
    found = tomllib.loads(edited(text, {("", "name"): "b", ("one", "x"): 9.0, ("two", "w"): 7.5, ("three", "z"): 5}))
    assert found == {
        "name": "b", "one": {"x": 9.0, "y": 2}, "two": {"w": 7.5, "x": 3}, "three": [{"z": 5}, {"z": 5}]
    }  # fmt: skip


def test_the_demonstration_boats_ratings_are_their_own() -> None:
    assert ratings_of(2).torque_nm == 110.0
    assert ratings_of(1).cells == 16
