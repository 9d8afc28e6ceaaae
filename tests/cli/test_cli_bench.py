"""`thwart bench` from outside: what it leaves behind, and each way to go wrong: one message, no traceback."""

import csv
import json
import os
import resource
import signal
import subprocess
from pathlib import Path

import can
import cantools
import pytest
from support import CONFIGS, command, complaint, edited, environment, thwart

SHORT = """
title = "short"
[[step]]
name = "cold"
wait_s = 1
expect = [{ signal = "boat.mode", value = "STANDBY", always = true }]
[[step]]
name = "on"
do.helm.enable = "press"
expect = [{ signal = "boat.mode", value = "READY", within_s = 3 }]
[[step]]
name = "ahead"
do.each.lever_pct = 40
wait_s = 2
expect = [{ signal = "each.torque_nm", op = ">", value = 20 }]
"""
LONG = SHORT.replace("wait_s = 2", "wait_s = 3000")


@pytest.fixture
def short(tmp_path: Path) -> Path:
    file = tmp_path / "short.toml"
    file.write_text(SHORT)
    return file


@pytest.fixture
def endless(tmp_path: Path) -> Path:
    file = tmp_path / "endless.toml"
    file.write_text(LONG)
    return file


def test_a_run_and_its_folder(tmp_path: Path, short: Path) -> None:
    """Every file is there, and the bus log holds the very torque orders that the signal table holds."""
    out = tmp_path / "run"
    done = thwart("bench", "marsh_tern", str(short), "--out", str(out), "--every-tick")
    assert (done.returncode, done.stderr) == (0, "")
    assert "PASS: 3 steps, 4 expectations met" in done.stdout
    assert done.stdout.rstrip().endswith(f"run folder: {out}")
    names = {file.name for file in out.iterdir()}
    assert names >= {
        "bus.log", "config.toml", "events.csv", "procedure.toml", "run.png", "run.svg", "signals.csv",
        "signals.parquet", "verdict.json", "verdict.md",
    }  # fmt: skip
    database = cantools.database.load_file(CONFIGS / "dbc" / "guarded.dbc")
    order = database.get_message_by_name("SHAFT_ORDER_1")
    with can.LogReader(out / "bus.log") as frames:
        sent = {
            round(frame.timestamp, 3): order.decode(frame.data)["Torque"]
            for frame in frames
            if frame.arbitration_id == order.frame_id and frame.channel == "can0"
        }
    with (out / "signals.csv").open() as file:
        table = {round(float(row["time_s"]), 3): float(row["port.order_nm"]) for row in csv.DictReader(file)}
    assert len(table) > 150
    assert sent.keys() == table.keys(), "an order a tick"
    assert max(abs(sent[time_s] - table[time_s]) for time_s in table) <= 0.051, "orders travel in steps of 0.1 N m"
    assert max(sent.values()) > 20


def test_a_missed_expectation_is_status_1_and_shown(tmp_path: Path, short: Path) -> None:
    short.write_text(SHORT.replace('value = "READY"', 'value = "TRIPPED"'))
    done = thwart("bench", "marsh_tern", str(short), "--no-plot", "--stop-at-first", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (1, "")
    assert "FAIL       boat.mode == TRIPPED within 3 s  |  READY at 3.00 s" in done.stdout
    assert "run folder: runs/short-marsh_tern-1" in done.stdout
    verdict = json.loads((tmp_path / "runs" / "short-marsh_tern-1" / "verdict.json").read_text())
    assert (verdict["verdict"], verdict["failures"]) == ("fail", 1)
    assert [step["verdict"] for step in verdict["steps"]] == ["pass", "fail", "not run"]


@pytest.mark.parametrize("plot", [True, False])
def test_ctrl_c_leaves_a_usable_folder(tmp_path: Path, endless: Path, plot: bool) -> None:
    out = tmp_path / "run"
    args = ("bench", "reed_warbler", str(endless), "--out", str(out), *(() if plot else ("--no-plot",)))
    with subprocess.Popen(
        command(*args), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment()
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        for line in running.stdout:
            if line.startswith("  2/3"):
                break
        running.send_signal(signal.SIGINT)
        rest = running.stdout.read()
        assert running.stderr.read() == ""
        assert running.wait(60) == 130
    assert "STOPPED BY HAND after 2 of 3 steps" in rest
    assert f"run folder: {out}" in rest
    verdict = json.loads((out / "verdict.json").read_text())
    assert verdict["verdict"] == "stopped"
    assert [step["verdict"] for step in verdict["steps"]] == ["pass", "pass", "not run"]
    with can.LogReader(out / "bus.log") as frames:
        assert sum(1 for _ in frames) == verdict["frames"] > 100
    with (out / "signals.csv").open() as file:
        assert len(list(csv.DictReader(file))) > 10
    assert (out / "run.png").exists() is plot


def test_ctrl_c_while_it_loads() -> None:
    code = (
        "import os, signal, sys\n"
        # a shell that starts its children in the background has them ignore Ctrl-C; a terminal does not
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "class Hand:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name == 'sim.cli.demo':\n"  # a verb among others: the hand comes while the program loads
        "            os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Hand())\n"
    )
    done = subprocess.run(
        [command()[0], "-c", code + "from sim.cli import main\nsys.exit(main(['demo', '--help', '--bad']))"],
        capture_output=True, text=True, env=environment(), timeout=60, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    assert done.returncode == 130, done.stderr


def test_a_reader_that_goes_away(tmp_path: Path, short: Path) -> None:
    """`thwart bench ... | head -1`: the run goes on, and its folder is complete."""
    out = tmp_path / "run"
    with subprocess.Popen(
        command("bench", "reed_warbler", str(short), "--out", str(out), "--no-plot"),
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment(),
    ) as running:  # fmt: skip
        assert running.stdout is not None
        assert running.stderr is not None
        assert running.stdout.readline().startswith("short - ")
        running.stdout.close()
        assert running.stderr.read() == ""
        assert running.wait(60) == 0
    assert json.loads((out / "verdict.json").read_text())["verdict"] == "pass"


def test_folder_that_cannot_be_made(tmp_path: Path, short: Path) -> None:
    (tmp_path / "file").write_text("")
    text = complaint(thwart("bench", "marsh_tern", str(short), "--out", str(tmp_path / "file" / "run")))
    assert str(tmp_path / "file") in text
    assert "cannot be made here" in text


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_folder_that_may_not_be_written(tmp_path: Path, short: Path) -> None:
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    assert "Permission denied" in complaint(thwart("bench", "marsh_tern", str(short), "--out", str(shut / "run")))


def test_folder_in_use(tmp_path: Path, short: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "notes.txt").write_text("mine")
    text = complaint(thwart("bench", "marsh_tern", str(short), "--out", str(tmp_path / "old")))
    assert "never overwrites" in text
    assert [file.name for file in (tmp_path / "old").iterdir()] == ["notes.txt"]


def test_disk_full_in_the_middle(tmp_path: Path, endless: Path) -> None:
    """A cap on file size stands for the full disk: one message naming the file, whatever was written stays."""
    out = tmp_path / "run"
    done = subprocess.run(
        command("bench", "reed_warbler", str(endless), "--out", str(out), "--no-plot"),
        capture_output=True, text=True, env=environment(), timeout=120, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000)),
    )  # fmt: skip
    text = complaint(done)
    assert "File too large" in text
    assert "bus.log" in text
    assert (out / "bus.log").stat().st_size == 60_000


BAD_STEPS = [
    ("do.port.leverr_pct = 3", "step 1, do: unknown target 'port.leverr_pct'; did you mean port.lever_pct"),
    ("do.port.lever_pct = 300", "step 1, do, port.lever_pct: 300 is not allowed; allowed: a number from -100 to 100 %"),
    ("set.bank.soc_pct = 300", "step 1, set, bank.soc_pct: bank.soc_pct = 300 is not allowed"),
    ("wiat_s = 3", "step 1: unknown key 'wiat_s'"),
    ("wait_s = -1", "wait_s"),
    ('inject = [{ fault = "gremlin", target = "monitor" }]', "unknown fault 'gremlin'"),
    ('inject = [{ fault = "node_silent", target = "cook" }]', "cook"),
    ('clear = [{ fault = "node_silent", target = "monitor" }]', "there is no node_silent on monitor to clear"),
    ('expect = [{ signal = "bank.soc", value = 3 }]', "unknown signal 'bank.soc'; did you mean bank.soc_pct"),
    ('expect = [{ signal = "boat.mode", value = "REDY" }]', "unknown mode 'REDY'; did you mean READY"),
    ('expect = [{ signal = "bank.soc_pct", value = "high" }]', "bank.soc_pct is a number, the value 'high' is not"),
    ("do = {", "line"),
]


@pytest.mark.parametrize(
    ("line", "words"), BAD_STEPS, ids=[line.split(" =")[0] + str(i) for i, (line, _) in enumerate(BAD_STEPS)]
)
def test_bad_procedures(tmp_path: Path, line: str, words: str) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(f'title = "t"\n[[step]]\nname = "one"\n{line}\n')
    text = complaint(thwart("bench", "marsh_tern", str(file), "--no-plot", "--out", str(tmp_path / "run")))
    assert text.startswith(f"thwart: {file}: ")
    assert words in text
    assert len(text.splitlines()) == 1


def test_procedure_of_another_boat() -> None:
    assert "is written for 'marsh_tern', this boat is 'reed_warbler'" in complaint(
        thwart("bench", "reed_warbler", "demo_marsh_tern")
    )


BAD_BOATS = [
    ("full_charge_a = 208.0", "full_charge_a = 208.0\nderate_start_pct = 90.0", "limits.derate_start_pct"),
    ("full_charge_a = 208.0", "full_charge_a = 208.0\ntapper_start_pct = 80.0", "limits.tapper_start_pct: unknown key"),
    ('signal = "ChargePermit"', 'signal = "ChargePermitt"', "ChargePermitt"),
    ('message = "MONITOR_GUARD"', 'message = "MONITOR_GARD"', "MONITOR_GARD"),
    ('"dbc/guarded.dbc"', '"dbc/gone.dbc"', "dbc/gone.dbc"),
    ("tick_s = 0.02", "tick_s = nan", "boat.tick_s"),
    ("tick_s = 0.02", "tick_s = 'fast'", "boat.tick_s"),
    ('name = "starboard"', 'name = "port"', "port"),
]


@pytest.mark.parametrize("verb", ["bench", "check"])
@pytest.mark.parametrize(("old", "new", "words"), BAD_BOATS, ids=[words.replace("/", "_") for _, _, words in BAD_BOATS])
def test_bad_boats(tmp_path: Path, short: Path, verb: str, old: str, new: str, words: str) -> None:
    """One clear message each, the same from `check` and from `bench`, and no run folder is made."""
    file = edited(tmp_path, (old, new))
    if verb == "check":
        done = thwart("check", str(file))
        text = complaint(done, status=done.returncode)
        assert done.returncode in (1, 2)
    else:
        text = complaint(thwart("bench", str(file), str(short), "--out", str(tmp_path / "run")))
        assert not (tmp_path / "run").exists()
    assert str(tmp_path) in text
    assert words in text


@pytest.mark.parametrize(
    ("plant", "words"), [("gone", "plants/gone.toml"), ("reed_warbler", "simulation.plant: the plant has the shaft")]
)
def test_a_boat_without_its_plant(tmp_path: Path, short: Path, plant: str, words: str) -> None:
    file = edited(tmp_path, ('plant = "plants/marsh_tern.toml"', f'plant = "plants/{plant}.toml"'))
    text = complaint(thwart("bench", str(file), str(short), "--out", str(tmp_path / "run")))
    assert words in text
    assert text.count("thwart: ") == 1
    assert not (tmp_path / "run").exists()


def test_a_fault_of_the_program_itself(tmp_path: Path) -> None:
    """Not to be met by anybody; if it is, one line on the screen, and the traceback in a file for the makers."""
    code = (
        "import sys, sim.cli.check as check\n"
        "def boom(args): raise RuntimeError('seeded')\n"
        "check.run = boom\n"
        "from sim.cli import main\n"
        "sys.exit(main(['check', 'marsh_tern']))"
    )
    done = subprocess.run(
        [command()[0], "-c", code], capture_output=True, text=True, env=environment(TMPDIR=str(tmp_path)), timeout=60,
        check=False,
    )  # fmt: skip
    text = complaint(done, status=70)
    assert "RuntimeError: seeded" in text
    kept = next(tmp_path.glob("thwart-fault-*.txt"))
    assert str(kept) in text
    assert "Traceback" in kept.read_text()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--bus", "private=slcan:/dev/null"], ["add --live, or leave them out"]),
        (["--live"], ["virtual"]),
        (["--live", "--bus", "privat=slcan:/dev/ttyACM7"], ["'privat' is no bus of this boat", "private"]),
        (["--live", "--nodes", "galley", "--bus", "private=slcan:/dev/x"], ["no node 'galley'", "monitor, helm"]),
        (["--live", "--bus", "private=slcan:/dev/nothing", "--bus", "backbone=slcan:/dev/nothing2"], ["/dev/nothing"]),
    ],
)
def test_a_device_elsewhere_that_cannot_be_reached(
    tmp_path: Path, short: Path, more: list[str], words: list[str]
) -> None:
    done = thwart("bench", "marsh_tern", str(short), "--out", str(tmp_path / "run"), *more)
    text = complaint(done)
    for word in words:
        assert word in text
    assert not (tmp_path / "run").exists()


def test_a_procedure_that_needs_the_devices_own_adapter_is_refused_before_it_begins(tmp_path: Path) -> None:
    """Bus-off of an adapter on another computer cannot be made from here: said at once, not after minutes."""
    file = tmp_path / "off.toml"
    file.write_text('title = "o"\n[[step]]\nname = "s"\ninject = [{ fault = "bus_off", target = "private" }]\n')
    wires = ["--bus", "private=slcan:/dev/nothing", "--bus", "backbone=slcan:/dev/nothing2"]
    text = complaint(thwart("bench", "marsh_tern", str(file), "--live", *wires))
    assert "off.toml: step 1, inject 1: unknown fault 'bus_off'" in text


def test_a_simulated_boat_that_is_none_is_said_to_be_so(tmp_path: Path) -> None:
    """A hull of a billionth of a kilogram: `check` warns, the bench stops in plain words when the numbers run away."""
    plant = (CONFIGS / "plants" / "marsh_tern.toml").read_text()
    line = next(one for one in plant.splitlines() if one.startswith("displacement_kg"))
    (tmp_path / "light.toml").write_text(plant.replace(line, "displacement_kg = 1e-9"))
    boat = edited(tmp_path, ('plant = "plants/marsh_tern.toml"', 'plant = "light.toml"'))
    text = complaint(thwart("bench", str(boat), "soft_start", "--no-plot", cwd=tmp_path))
    assert "the simulated boat has no speed or voltage that is a number" in text
    assert "thwart check" in text
