"""A small boat with real dynamics to test the bench itself: a drive that lags, a bank that counts, simple rules."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import can

from sim.rig.inside import Inside


class TinyEvent(NamedTuple):
    time_s: float
    kind: str
    subject: str
    text: str


class TinyRig(Inside):
    """One or more shafts. READY needs levers in neutral for 0.5 s; torque follows the lever with a lag of 0.3 s."""

    def __init__(self, shafts: Sequence[str] = ("port", "starboard"), boat: str = "tiny") -> None:
        self.on_frame: Callable[[float, can.Message, str], None] | None = None
        self.boat = boat
        self.shafts = tuple(shafts)
        self.buses = ("drive", "backbone")
        self.tick_s = 0.02
        self.events: list[TinyEvent] = []
        self.closed = False
        self._n = 0
        self._mode = "STANDBY"
        self._lever = dict.fromkeys(self.shafts, 0.0)
        self._torque = dict.fromkeys(self.shafts, 0.0)
        self._shaft_mode = dict.fromkeys(self.shafts, "REST")
        self._soc = 60.0
        self._press_until = -1.0
        self._neutral_since: float | None = 0.0
        self._silent = False

    @property
    def now_s(self) -> float:
        return self._n * self.tick_s

    def plant_targets(self) -> Sequence[str]:
        return ("bank.soc_pct",)

    def faults(self) -> Mapping[str, str]:
        return {"node_silent": "a node stops sending", "stuck": "a signal keeps its value"}

    def act(self, target: str, value: float | bool | str) -> str:
        self._event("action", "boat", f"{target} {value}")
        shaft, _, what = target.partition(".")
        if target == "helm.enable" and value == "press":
            self._press_until = self.now_s + 0.3
            in_gear = self._in_gear()
            if in_gear:
                self._event("refusal", "boat", f"enable: {in_gear[0]} lever is not in neutral")
        elif what == "lever_pct":
            self._lever[shaft] = float(value)
        elif what == "lock":
            raise ValueError(f"{shaft} has no shaft lock")
        return ""

    def set_plant(self, target: str, value: float) -> None:
        if not 0 <= value <= 100:
            raise ValueError(f"{target} = {value:g}: allowed is 0 to 100")
        self._soc = value

    def inject(self, fault: str, target: str, **params: float | bool | str) -> None:
        if target not in ("monitor", *self.shafts):
            raise ValueError(f"no node {target!r}; allowed: monitor, {', '.join(self.shafts)}")
        self._event("fault", target, fault)
        self._silent = True

    def clear(self, fault: str, target: str) -> None:
        self._event("fault", target, f"{fault} ended")
        self._silent = False

    def step(self) -> None:
        self._n += 1
        now = self.now_s
        if self._in_gear():
            self._neutral_since = None
        elif self._neutral_since is None:
            self._neutral_since = now
        held = self._neutral_since is not None and now - self._neutral_since >= 0.5
        if self._silent and self._mode == "READY":
            self._go("TRIPPED", "monitor lost")
            self._event("trip", "boat", "monitor lost")
        elif self._mode == "STANDBY" and now <= self._press_until:
            self._go("READY" if held else "NEUTRAL_WAIT", "enable")
        elif self._mode == "NEUTRAL_WAIT" and held:
            self._go("READY", "levers in neutral")
        for shaft in self.shafts:
            live = self._mode == "READY" and self._soc > 0
            order = self._lever[shaft] * 3.0 if live else 0.0
            self._torque[shaft] += (order - self._torque[shaft]) * (1 - math.exp(-self.tick_s / 0.3))
            self._shaft_mode[shaft] = "PROPEL" if order else "REST"
        self._soc += self._current() * self.tick_s / 3600 / 400 * 100
        if self.on_frame is not None:
            data = int(self._soc * 2).to_bytes(1, "little") + bytes([self._n % 15, 0, 7])
            self.on_frame(now, can.Message(arbitration_id=0x123, is_extended_id=False, data=data), "drive")
            self.on_frame(now, can.Message(arbitration_id=0x0CF00417, data=bytes(8)), "backbone")

    def signals(self) -> Mapping[str, float | str]:
        found: dict[str, float | str] = {
            "boat.mode": self._mode,
            "boat.alarms": "bank is low" if self._soc < 26 else "",
            "boat.charge_limit_a": 200.0,
            "boat.derate_pct": 100.0,
            "bank.soc_pct": self._soc,
            "bank.current_a": self._current(),
            "bank.cell_max_v": math.nan,
        }
        for shaft in self.shafts:
            found[f"{shaft}.mode"] = self._shaft_mode[shaft]
            found[f"{shaft}.order_nm"] = self._lever[shaft] * 3.0
            found[f"{shaft}.torque_nm"] = self._torque[shaft]
            found[f"{shaft}.speed_rpm"] = self._torque[shaft] * 2.0
        return found

    def explain(self, what: str) -> Sequence[str]:
        if what in self.shafts or what.startswith(self.shafts):
            return ["no thrust is asked"]
        return [f"{shaft} lever is not in neutral" for shaft in self._in_gear()]

    def close(self) -> None:
        self.closed = True

    def _in_gear(self) -> list[str]:
        return [shaft for shaft in self.shafts if abs(self._lever[shaft]) > 5]

    def _current(self) -> float:
        return -5.0 - sum(abs(t) for t in self._torque.values()) / 3

    def _go(self, mode: str, why: str) -> None:
        self._mode = mode
        self._event("mode", "boat", f"{mode}: {why}")

    def _event(self, kind: str, subject: str, text: str) -> None:
        self.events.append(TinyEvent(self.now_s, kind, subject, text))
