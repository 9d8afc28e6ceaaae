"""Somebody else's controller, and a careless one: thrust follows the lever, with no interlock at all.

Nothing of ours in it: cantools, PyPI `autosar-e2e` and python-can only. It knows the boat by the DBC file.
"""

import sys
import time

import can
import cantools
import e2e.p01

TICK_S = 0.02
FULL_NM = 60.0


def main(channel: str, dbc: str) -> None:
    """Forever: what the lever asks for, at once."""
    database = cantools.database.load_file(dbc)
    bus = can.Bus(interface="slcan", channel=channel, bitrate=250_000, sleep_after_open=0.0)
    counters = {"SHAFT_ORDER_1": 0, "PERMITS": 0}
    lever_pct = 0.0

    def send(name: str, values: dict[str, float]) -> None:
        message = database.get_message_by_name(name)
        whole = {signal.name: 0 for signal in message.signals}
        data = bytearray(message.encode({**whole, **values}, strict=False))
        identity = int(message.dbc.attributes["GuardDataId"].value)
        data[1] = (data[1] & 0xF0) | counters[name]
        e2e.p01.e2e_p01_protect(data, identity, length=len(data), increment_counter=False)
        counters[name] = (counters[name] + 1) % 15
        bus.send(can.Message(arbitration_id=message.frame_id, is_extended_id=False, data=data))

    due_s = time.monotonic()
    print("driving", flush=True)
    while True:
        while (heard := bus.recv(timeout=0)) is not None:
            if heard.arbitration_id == 0x041 and not heard.is_extended_id:
                lever_pct = float(database.decode_message(0x041, heard.data)["Position"])  # type: ignore[index, arg-type]
        send("SHAFT_ORDER_1", {"Enable": 1, "Precharge": 1, "Torque": FULL_NM * lever_pct / 100.0})
        send("PERMITS", {"DriveEnable1": 1, "EngineStart1": 1})
        due_s += TICK_S
        time.sleep(max(0.0, due_s - time.monotonic()))


if __name__ == "__main__":
    main(*sys.argv[1:])
