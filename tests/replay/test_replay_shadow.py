"""Against the controller that was in charge: our own, or a foreign one through a mapping of its messages."""

import functools
import itertools
from pathlib import Path
from typing import Any

import cantools
import pytest
from replay_recorded import record, voyage  # type: ignore[import-not-found]

from sim.cli.app import dispatch
from sim.replay.session import Options, Session
from sim.replay.shadow import ShadowReport
from sim.requirements import Record
from sim.requirements.record import LONGEST_GAP_S

# A foreign controller: one unguarded message a shaft, tenths of N m offset by 1000 N m, and a run bit that is inverted.
FOREIGN_DBC = """VERSION ""
BU_: FOREIGN
BO_ 1793 FOREIGN_PORT: 4 FOREIGN
 SG_ Order : 0|16@1+ (0.1,-1000) [-1000|1000] "N m" FOREIGN
 SG_ Off : 16|1@1+ (1,0) [0|1] "" FOREIGN
"""
MAPPING = """
[buses.private]
dbc = ["foreign.dbc"]
[shaft.port.outputs]
"drive.torque_nm" = { bus = "private", message = "FOREIGN_PORT", signal = "Order", factor = 0.5 }
"drive.enable" = { bus = "private", message = "FOREIGN_PORT", signal = "Off", invert = true }
"""


@pytest.fixture(scope="module")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    record(folder, "marsh_tern", voyage)
    return folder


def shadow_of(session: Session) -> ShadowReport:
    session.run()
    shadow = session.result().shadow
    assert shadow is not None
    return shadow


def test_our_own_recorded_commands_agree(run_folder: Path) -> None:
    shadow = shadow_of(Session("marsh_tern", str(run_folder)))
    assert shadow.bad == 0
    assert shadow.frames > 4000
    assert shadow.disagreements.compared > 20_000
    assert shadow.disagreements.different == 0


def foreign_copy(run_folder: Path, folder: Path, until_s: float, keep_nm: float) -> Path:
    """The run as a foreign controller would have left it: its own frames instead of ours. From 20 s to `until_s` it
    orders `keep_nm` on the port shaft, whatever the machinery says; else it orders what ours ordered."""
    lines = []
    for line in (run_folder / "bus.log").read_text(encoding="ascii").splitlines():
        stamp, _, frame = line.split()
        name, _, data = frame.partition("#")
        if name in ("031", "032", "03A", "074", "075", "079", "07B", "07C", "07D", "07E"):
            if name != "031":
                continue
            little = int.from_bytes(bytes.fromhex(data), "little")
            enabled, torque_nm = decoded_order(little)
            if 20.0 <= float(stamp[1:-1]) < until_s:
                enabled, torque_nm = True, keep_nm
            raw = round((torque_nm * 2 + 1000) / 0.1)
            order = raw | (0 if enabled else 1) << 16
            lines.append(f"{stamp} can0 701#{order.to_bytes(4, 'little').hex().upper()}")
        else:
            lines.append(line)
    (folder / "bus.log").write_text("".join(f"{line}\n" for line in lines), encoding="ascii")
    (folder / "ticks.csv").write_text((run_folder / "ticks.csv").read_text(encoding="ascii"), encoding="ascii")
    (folder / "foreign.dbc").write_text(FOREIGN_DBC, encoding="ascii")
    (folder / "commands.toml").write_text(MAPPING, encoding="ascii")
    return folder


@functools.cache
def order_message() -> Any:
    path = Path(__file__).resolve().parents[2] / "configs/dbc/guarded.dbc"
    return cantools.database.load_file(path).get_message_by_name("SHAFT_ORDER_1")


def decoded_order(little: int) -> tuple[bool, float]:
    """Enable and torque of SHAFT_ORDER_1, read with cantools, not with our codec."""
    message = order_message()
    values = message.decode(little.to_bytes(message.length, "little"), decode_choices=False)
    return bool(values["Enable"]), float(values["Torque"])


def test_a_foreign_controller_that_does_as_ours_agrees(run_folder: Path, tmp_path: Path) -> None:
    folder = foreign_copy(run_folder, tmp_path, until_s=0.0, keep_nm=0.0)
    options = Options(commands=folder / "commands.toml")
    shadow = shadow_of(Session("marsh_tern", str(folder), options))
    assert shadow.rows == ("port.drive.torque_nm", "port.drive.enable")
    assert shadow.frames == 1575  # at 50 Hz for 33 s, but for the 1.5 s in which the adapter was out
    assert shadow.disagreements.different == 0


def test_where_a_foreign_controller_differs_and_which_interlock_explains_it(run_folder: Path, tmp_path: Path) -> None:
    # the engine runs and its gearbox is ahead from about 20 s on: electric thrust is barred there, and asked by nobody
    folder = foreign_copy(run_folder, tmp_path, until_s=22.0, keep_nm=30.0)
    session = Session("marsh_tern", str(folder), Options(commands=folder / "commands.toml", rules=True))
    shadow = shadow_of(session)
    torque = [stretch for stretch in shadow.disagreements.stretches if stretch.what == "port.drive.torque_nm"]
    assert len(torque) == 1
    stretch = torque[0]
    assert stretch.begin_s == pytest.approx(20.0, abs=0.021)
    assert stretch.length_s == pytest.approx(2.0, abs=0.041)
    assert (stretch.ours, stretch.theirs) == (0.0, pytest.approx(30.0, abs=0.06))
    assert "gearbox is not confirmed in neutral" in stretch.why
    # and the requirement on the recorded orders says the same: SR-09, no thrust unless engine stopped or gear neutral
    foreign = session.result().rules[1]
    verdicts = {judgement.id: judgement for judgement in foreign.judgements}
    assert verdicts["SR-09"].held is False
    assert verdicts["SR-09"].duration_s == pytest.approx(2.0, abs=0.1)
    assert verdicts["SR-09"].closest == pytest.approx(-30.0, abs=0.1)
    ours = {judgement.id: judgement for judgement in session.result().rules[0].judgements}
    assert ours["SR-09"].held is not False


def test_an_order_that_is_no_longer_repeated_is_none(run_folder: Path, tmp_path: Path) -> None:
    """The controller falls silent with thrust ordered, while the engine comes into gear: nobody orders thrust then."""
    folder = foreign_copy(run_folder, tmp_path, until_s=20.5, keep_nm=30.0)
    lines = (folder / "bus.log").read_text(encoding="ascii").splitlines()
    kept = [line for line in lines if " 701#" not in line or float(line.split()[0].strip("()")) < 20.5]
    (folder / "bus.log").write_text("".join(f"{line}\n" for line in kept), encoding="ascii")
    session = Session("marsh_tern", str(folder), Options(commands=folder / "commands.toml", rules=True))
    session.run()
    verdicts = {judgement.id: judgement for judgement in session.result().rules[1].judgements}
    assert verdicts["SR-09"].held is False
    assert verdicts["SR-09"].duration_s == pytest.approx(0.5, abs=0.12)


@pytest.mark.parametrize("own_ticks", [False, True])
def test_an_order_does_not_stand_through_a_silence_of_the_whole_recording(
    run_folder: Path, tmp_path: Path, own_ticks: bool
) -> None:
    """Nothing at all is recorded from 20.5 s to 26 s: no tick hears a command, and yet the last one does not stand.
    For 5.5 s it would be thrust with every input lost."""
    folder = foreign_copy(run_folder, tmp_path, until_s=20.5, keep_nm=30.0)
    lines = (folder / "bus.log").read_text(encoding="ascii").splitlines()
    kept = [line for line in lines if not 20.5 <= float(line.split()[0].strip("()")) < 26.0]
    (folder / "bus.log").write_text("".join(f"{line}\n" for line in kept), encoding="ascii")
    options = Options(commands=folder / "commands.toml", rules=True, own_ticks=own_ticks)
    session = Session("marsh_tern", str(folder), options)
    session.run()
    verdicts = {judgement.id: judgement for judgement in session.result().rules[1].judgements}
    assert verdicts["SR-09"].duration_s == pytest.approx(0.5, abs=0.12)
    # 3.5 turns of 20 ms after the last frame it is gone; drive torque and speed are stale after 80 ms
    assert all(judgement.duration_s < 0.7 for judgement in verdicts.values())


def test_requirements_are_judged_on_late_ticks_too(tmp_path: Path) -> None:
    """Ticks five times as long as the boat's: records may still not lie further apart than half a second."""
    record(tmp_path, "marsh_tern", lambda rig: rig.run(60.0))
    times = "".join(f"{0.1 * k!r},1,1,\n" for k in range(1, 601))
    head = "# thwart ticks 1; stamp = time_s + 0.0; since_full_s = 0.0\ntime_s,receive_ok,deadline_ok,reopened\n"
    (tmp_path / "ticks.csv").write_text(head + times, encoding="ascii")
    session = Session("marsh_tern", str(tmp_path), Options(rules=True))
    assert session.own_rules is not None
    fed: list[float] = []
    evaluator = session.own_rules._feeder.evaluator
    feed = evaluator.feed

    def noted(one: Record) -> None:
        fed.append(one.time_s)
        feed(one)

    evaluator.feed = noted  # type: ignore[method-assign]
    session.run()
    session.result()
    assert fed[-1] - fed[0] > 59.0
    assert max(later - sooner for sooner, later in itertools.pairwise(fed)) <= LONGEST_GAP_S


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "buses"),
        ('[buses.engine_room]\ndbc = ["foreign.dbc"]\n', "is no bus of this boat"),
        ('[buses.private]\ndbc = ["foreign.dbc"]\n', "maps no command"),
        ('[buses.private]\ndbc = ["nowhere.dbc"]\n', "cannot be read"),
        (MAPPING.replace("FOREIGN_PORT", "FOREIGN_STARBOARD"), "no message"),
        (MAPPING.replace('"Order"', '"Ordre"'), "has no signal"),
        (MAPPING.replace("shaft.port", "shaft.centre"), "is no shaft of this boat"),
        (MAPPING.replace("drive.torque_nm", "drive.torque"), "no such output"),
        (MAPPING.replace("factor", "facter"), "unknown key"),
        ("[buses.private\n", "not valid TOML"),
    ],
)
def test_a_mapping_that_cannot_be_used(
    run_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    (tmp_path / "foreign.dbc").write_text(FOREIGN_DBC, encoding="ascii")
    path = tmp_path / "commands.toml"
    path.write_text(text, encoding="ascii")
    assert dispatch(["replay", "marsh_tern", str(run_folder), "--commands", str(path)]) == 2
    err = capsys.readouterr().err
    assert words in err
    assert "commands.toml" in err or "nowhere.dbc" in err
