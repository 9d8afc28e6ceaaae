"""Commands as they leave: counters, periods, saturation, and what is never sent."""

import math

import can
import pytest
from hypothesis import given
from hypothesis import strategies as st

from supervisor.bus import BoatMap, OutputTable
from supervisor.bus.e2e import GuardChecker, Verdict
from supervisor.controller.status import BoatStatus, ShaftStatus
from supervisor.signals import Alarm, BoatCommand, ShaftCommand, ShaftPermit

QUIET = BoatCommand()
NONE = (ShaftCommand(), ShaftCommand())
ORDER_1, ORDER_2, PERMITS, STATUS, ALARMS = 0x031, 0x032, 0x03A, 0x079, 0x07B
SHOWN = (0x074, 0x075, STATUS, ALARMS, 0x07C, 0x07D, 0x07E)


def send(
    out: OutputTable,
    now_s: float,
    shafts: tuple[ShaftCommand, ...] = NONE,
    boat: BoatCommand = QUIET,
    mode: int = 0,
    modes: tuple[int, ...] = (0, 0),
) -> dict[int, can.Message]:
    return {message.arbitration_id: message for _, message in out.frames(now_s, boat, shafts, mode, modes)}


def decoded(boat_map: BoatMap, name: str, message: can.Message) -> dict[str, float | None]:
    return boat_map.messages["private"][name].decode(message.data)


@pytest.fixture
def out(marsh_map: BoatMap) -> OutputTable:
    return OutputTable(marsh_map)


@pytest.mark.sr("SR-48")
def test_orders_go_out_each_tick_and_others_by_their_period(out: OutputTable) -> None:
    """PERMITS every 40 ms, STATUS and ALARMS every 200 ms, orders each 20 ms tick: 1 s of them."""
    sent = dict.fromkeys((ORDER_1, ORDER_2, PERMITS, *SHOWN), 0)
    for tick in range(50):
        for identifier in send(out, 100.0 + tick * 0.02):
            sent[identifier] += 1
    assert sent == {ORDER_1: 50, ORDER_2: 50, PERMITS: 25, **dict.fromkeys(SHOWN, 5)}


def test_late_ticks_send_once_and_do_not_catch_up(out: OutputTable) -> None:
    send(out, 0.0)
    assert set(send(out, 0.31)) == {ORDER_1, ORDER_2, PERMITS, *SHOWN}
    assert set(send(out, 0.33)) == {ORDER_1, ORDER_2}


def test_a_clock_that_runs_back_still_sends(out: OutputTable) -> None:
    send(out, 50.0)
    assert set(send(out, 10.0)) == {ORDER_1, ORDER_2, PERMITS, *SHOWN}


def test_a_permit_that_drops_is_sent_at_once(out: OutputTable) -> None:
    live = (ShaftCommand(permits=int(ShaftPermit.DRIVE_ENABLE)), ShaftCommand())
    send(out, 0.0, live, mode=2)
    assert PERMITS not in send(out, 0.02, live, mode=2)
    message = send(out, 0.04, live, mode=2)[PERMITS]
    assert message.data[2] & 3 == 1
    assert PERMITS in send(out, 0.06, NONE, mode=2)
    assert STATUS in send(out, 0.08, NONE, mode=3)


def test_a_number_that_changes_waits_for_the_period(out: OutputTable) -> None:
    send(out, 0.0)
    assert STATUS not in send(out, 0.02, boat=BoatCommand(charge_limit_a=100.0, derate_pct=3.0))


def test_counters_run_from_0_to_14_and_the_guard_holds(out: OutputTable) -> None:
    checker = GuardChecker(0xB531, max_delta=1)
    verdicts = []
    counters = []
    for tick in range(40):
        message = send(out, tick * 0.02, (ShaftCommand(torque_nm=tick), ShaftCommand()))[ORDER_1]
        verdicts.append(checker.check(message.data))
        counters.append(message.data[1] & 15)
    assert counters == [tick % 15 for tick in range(40)]
    assert verdicts == [Verdict.INITIAL] + [Verdict.OK] * 39


def test_nothing_that_opposes_a_default_is_on(marsh_map: BoatMap, out: OutputTable) -> None:
    """The default commands: no torque, no permit, sources stopped."""
    frames = send(out, 0.0)
    order = decoded(marsh_map, "SHAFT_ORDER_1", frames[ORDER_1])
    assert (order["Torque"], order["Enable"], order["Precharge"]) == (0.0, 0, 0)
    permits = decoded(marsh_map, "PERMITS", frames[PERMITS])
    assert permits.pop("StopSources") == 1
    assert {permits[name] for name in permits if name not in ("Crc", "Counter")} == {0}


@pytest.mark.parametrize(
    ("permit", "message", "signal"),
    [
        (ShaftPermit.DRIVE_ENABLE, "SHAFT_ORDER_2", "Enable"),
        (ShaftPermit.DRIVE_ENABLE, "PERMITS", "DriveEnable2"),
        (ShaftPermit.PRECHARGE, "SHAFT_ORDER_2", "Precharge"),
        (ShaftPermit.ENGINE_START, "PERMITS", "EngineStart2"),
        (ShaftPermit.CLUTCH_CLOSE, "PERMITS", "ClutchClose2"),
        (ShaftPermit.LOCK_ENGAGE, "PERMITS", "LockEngage2"),
    ],
)
def test_each_permit_has_its_own_signal(
    marsh_map: BoatMap, out: OutputTable, permit: ShaftPermit, message: str, signal: str
) -> None:
    frames = send(out, 0.0, (ShaftCommand(), ShaftCommand(permits=int(permit))))
    on = set()
    for name in ("SHAFT_ORDER_1", "SHAFT_ORDER_2", "PERMITS"):
        codec = marsh_map.messages["private"][name]
        values = codec.decode(frames[codec.arbitration_id].data)
        on |= {(name, key) for key, value in values.items() if value == 1 and key not in ("Crc", "Counter")}
    expected = {(message, signal), ("PERMITS", "StopSources")}
    if permit is ShaftPermit.DRIVE_ENABLE:
        expected |= {("SHAFT_ORDER_2", "Enable"), ("PERMITS", "DriveEnable2")}
    assert on == expected


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("field", ["torque_nm", "current_a"])
def test_an_order_that_is_no_number_withdraws_the_shaft(
    marsh_map: BoatMap, out: OutputTable, field: str, value: float
) -> None:
    bad = ShaftCommand(torque_nm=40.0, current_a=-5.0, permits=31)._replace(**{field: value})
    frames = send(out, 0.0, (bad, ShaftCommand(torque_nm=30.0, permits=1)))
    order = decoded(marsh_map, "SHAFT_ORDER_1", frames[ORDER_1])
    assert (order["Torque"], order["CurrentAim"], order["Enable"], order["Precharge"]) == (0.0, 0.0, 0, 0)
    assert frames[PERMITS].data[2] == 0
    other = decoded(marsh_map, "SHAFT_ORDER_2", frames[ORDER_2])
    assert (other["Torque"], other["Enable"]) == (30.0, 1)
    assert out.faults == 1


@pytest.mark.parametrize("field", ["charge_limit_a", "derate_pct"])
def test_a_boat_number_that_is_none_is_sent_as_zero(marsh_map: BoatMap, out: OutputTable, field: str) -> None:
    boat = BoatCommand(charge_limit_a=100.0, derate_pct=50.0)._replace(**{field: math.nan})
    status = decoded(marsh_map, "STATUS", send(out, 0.0, boat=boat)[STATUS])
    assert (status["ChargeLimit"], status["Derate"]) == (0.0, 0.0)
    assert out.faults == 1


@given(st.floats(allow_nan=False, allow_infinity=False), st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_saturate(marsh_map: BoatMap, torque_nm: float, current_a: float) -> None:
    """+-3200 N m, +-3200 A in 0.1 steps, and never the code for "not available"."""
    frames = send(OutputTable(marsh_map), 0.0, (ShaftCommand(torque_nm, current_a, 1), ShaftCommand()))
    order = decoded(marsh_map, "SHAFT_ORDER_1", frames[ORDER_1])
    for value, sent in ((torque_nm, order["Torque"]), (current_a, order["CurrentAim"])):
        assert sent is not None
        assert sent == pytest.approx(max(-3200.0, min(3200.0, value)), abs=0.051)
    assert order["Enable"] == 1


@given(
    st.floats(-3200, 3200), st.floats(-3200, 3200), st.integers(0, 31), st.integers(0, 3), st.integers(0, 5),
    st.floats(0, 5000), st.integers(0, 2**22 - 1),
)  # fmt: skip
def test_pack_equals_the_codec(
    marsh_map: BoatMap, torque_nm: float, current_a: float, permits: int, mode: int, shaft_mode: int, limit_a: float,
    alarms: int,
) -> None:  # fmt: skip
    frames = send(
        OutputTable(marsh_map), 0.0, (ShaftCommand(torque_nm, current_a, permits), ShaftCommand()),
        BoatCommand(charge_limit_a=limit_a, alarms=alarms), mode, (shaft_mode, 0),
    )  # fmt: skip
    codecs = marsh_map.messages["private"]
    order = codecs["SHAFT_ORDER_1"].encode(
        {"Enable": permits & 1, "Precharge": permits >> 1 & 1, "Torque": torque_nm, "CurrentAim": current_a}
    )
    assert frames[ORDER_1].data[1:] == order[1:]
    status = codecs["STATUS"].encode(
        {"HandsetInControl": 0, "BoatMode": mode, "ShaftMode1": shaft_mode, "ShaftMode2": 0, "ChargeLimit": limit_a,
         "Derate": 0}
    )  # fmt: skip
    assert frames[STATUS].data[1:] == status[1:]
    assert frames[ALARMS].data[1:] == codecs["ALARMS"].encode({"Alarms": alarms})[1:]


@pytest.mark.parametrize("alarm", Alarm)
def test_each_alarm_goes_out_as_its_own_bit(marsh_map: BoatMap, alarm: Alarm) -> None:
    """A frame has 32 bits, and a number that does not fit saturates: it would show each alarm at once."""
    frames = OutputTable(marsh_map).frames(1.0, BoatCommand(alarms=int(alarm)), [ShaftCommand()] * 2, 2, [0, 0])
    words = [
        next(int.from_bytes(message.data[2:6], "little") for _, message in frames if message.arbitration_id == number)
        for number in (0x07B, 0x07C)
    ]
    assert words[0] | words[1] << 32 == int(alarm)
    every = sum(int(one) for one in Alarm)
    assert every & 0xFFFFFFFF < 0xFFFFFFFF, "all ones means not available"
    assert every >> 32 < 0xFFFFFFFF


def test_states_and_limits_for_displays(marsh_map: BoatMap) -> None:
    """Frames by hand: port isolated by its drive's fault (bit 0), to be reset; 40 N m astern; 62.5 % by its heat."""
    states = (ShaftStatus(1, 2, 62.5, 5, 40.0), ShaftStatus(0, 0, 100.0, 0, 110.0))
    frames = OutputTable(marsh_map).frames(
        1.0, BoatCommand(), [ShaftCommand()] * 2, 2, [5, 0], BoatStatus(2, 61.5, 4, 480.0, 8), states
    )
    data = {message.arbitration_id: bytes(message.data) for _, message in frames}
    assert data[0x074][1:].hex(" ") == "20 01 05 7d 90 01 00"
    assert data[0x075][1:].hex(" ") == "00 00 00 c8 4c 04 00"
    assert data[0x07D][1:].hex(" ") == "20 84 67 02 c0 12 00"


def test_a_number_that_is_none_is_not_told(marsh_map: BoatMap) -> None:
    out = OutputTable(marsh_map)
    states = (ShaftStatus(brake_nm=math.nan), ShaftStatus(limit_pct=math.inf))
    frames = out.frames(1.0, BoatCommand(), [ShaftCommand()] * 2, 2, [0, 0], BoatStatus(brake_a=math.nan), states)
    assert out.faults == 3
    data = {message.arbitration_id: bytes(message.data) for _, message in frames}
    assert data[0x074][4:7] == bytes(3)
    assert data[0x07D][3:7] == bytes(4)
