"""A boat under a live controller, without buses: inputs by name, time in ticks, drives that obey.

A failing check reads like a fault report: the rule, the signal, the last modes with their times, what was expected,
what came, and which permissives held.
"""

from collections.abc import Callable
from typing import Any

from boatyard.boats import boat_config
from supervisor.controller import Controller, Outcome, name_bits
from supervisor.modes import BoatCondition, ShaftCondition
from supervisor.signals import (
    BOAT_INPUT_BY_NAME,
    SHAFT_INPUT_BY_NAME,
    Alarm,
    BoatInputs,
    InputSpec,
    OwnInputs,
    ShaftInputs,
    ShaftPermit,
)

RAD_S_PER_RPM = 0.104719755119659774615  # 2 pi / 60, from memory
TICK_S = 0.02

BOAT_AT_REST: dict[str, Any] = {
    "bank.soc_pct": 60.0,
    "bank.voltage_v": 52.0,
    "bank.current_a": 0.0,
    "bank.cell_max_v": 3.30,
    "bank.cell_min_v": 3.28,
    "bank.cell_hot_c": 22.0,
    "bank.cell_cold_c": 20.0,
    "bank.charge_limit_a": 300.0,
    "bank.discharge_limit_a": 600.0,
    "bank.charge_permit": True,
    "bank.discharge_permit": True,
    "bank.contactor_closed": True,
    "handset.minutes": 120.0,
    "handset.ours": True,
    "runtime.receive_ok": True,
    "runtime.deadline_ok": True,
}
SHAFT_AT_REST: dict[str, Any] = {
    "drive.link_v": 52.0,
    "drive.motor_c": 30.0,
    "drive.inverter_c": 30.0,
    "drive.coolant_c": 25.0,
    "lever.neutral": True,
    "gearbox.neutral": True,
    "clutch.closed": True,
    "lock.released": True,
}
"""A boat at the jetty, all in order. What is not named is 0 or off."""


class Rig:
    """The test boat. `rig["bank.soc_pct"] = 92.0`, `rig["port.lever.lever_pct"] = None` (unknown), `rig.tick()`."""

    def __init__(self, changes: dict[str, Any] | None = None, shafts: int = 2, hotel_a: float = 0.0) -> None:
        self.config = boat_config(changes, shafts)
        self.controller = Controller(self.config)
        self.names = self.controller.shaft_names
        self.now_s = 100.0
        self.hotel_a = hotel_a
        self.obey = True
        """Drives give at once the torque and current that were ordered; False leaves what the test sets."""
        self.precharges = False
        """True: DC links start empty and follow the precharge order in half a second."""
        self._boat: dict[str, Any] = {name: BOAT_AT_REST.get(name, 0.0) for name in BOAT_INPUT_BY_NAME}
        # own interlocks by number, "own.0": a contact True or False, or a number; unknown until set
        self._boat |= {f"own.{k}": None for k in range(len(self.config.interlock))}
        self._shafts: list[dict[str, Any]] = [
            {name: SHAFT_AT_REST.get(name, 0.0) for name in SHAFT_INPUT_BY_NAME} for _ in self.names
        ]
        self.out: Outcome | None = None
        self.modes: list[tuple[float, str, str, str]] = []
        self.events: list[Any] = []
        self._actions: list[str] = []

    def save(self) -> Callable[[], None]:
        """Remember everything; the function returned brings it back. Cheaper than a new way into a mode."""
        kept = (self.now_s, dict(self._boat), [dict(s) for s in self._shafts], self.out, self.hotel_a, self.obey)
        inside, kept_inside = self.controller, self.controller.save()
        lengths = len(self.modes), len(self.events), len(self._actions)

        def restore() -> None:
            self.now_s, self._boat, self._shafts = kept[0], dict(kept[1]), [dict(s) for s in kept[2]]
            self.out, self.hotel_a, self.obey = kept[3:]
            inside.restore(kept_inside)
            for kept_list, length in zip((self.modes, self.events, self._actions), lengths, strict=True):
                del kept_list[length:]

        return restore

    # ---- inputs

    def _place(self, name: str) -> tuple[dict[str, Any], str]:
        head, _, rest = name.partition(".")
        if head in self.names:
            return self._shafts[self.names.index(head)], rest
        return self._boat, name

    def __setitem__(self, name: str, value: Any) -> None:
        where, key = self._place(name)
        if key not in where:
            raise KeyError(f"no input {name}")
        where[key] = value
        self._actions.append(f"{self.now_s:8.2f} s  {name} = {value}")

    def __getitem__(self, name: str) -> Any:
        where, key = self._place(name)
        return where[key]

    def lever(self, shaft: str, pct: float) -> None:
        """Move a lever: position and neutral contact together."""
        self[f"{shaft}.lever.lever_pct"] = float(pct)
        self[f"{shaft}.lever.neutral"] = pct == 0

    def levers(self, pct: float) -> None:
        """Move every lever."""
        for name in self.names:
            self.lever(name, pct)

    def speed(self, shaft: str, rpm: float) -> None:
        """Turn a shaft: both sides of a closed clutch."""
        self[f"{shaft}.drive.machine_speed_rpm"] = float(rpm)
        self[f"{shaft}.shaft.propeller_speed_rpm"] = float(rpm)

    def engine(self, shaft: str, rpm: float, gear: str) -> None:
        """Run an engine (0 rpm: stopped) in gear "neutral" or "ahead", its run contact telling the truth."""
        self[f"{shaft}.engine.engine_speed_rpm"] = float(rpm)
        self[f"{shaft}.engine.running"] = rpm > 0
        self[f"{shaft}.gearbox.neutral"] = gear == "neutral"
        self[f"{shaft}.gearbox.ahead"] = gear == "ahead"
        self[f"{shaft}.gearbox.gear_report"] = 1.0 if gear == "ahead" else 0.0

    @staticmethod
    def _level(values: dict[str, Any], register: dict[str, InputSpec]) -> tuple[int, int, dict[str, float]]:
        known = on = 0
        numbers: dict[str, float] = {}
        for name, value in values.items():
            spec = register.get(name)
            if spec is None:  # an own interlock: its words are its own
                continue
            if value is None:
                continue
            known |= int(spec.bit)
            if spec.is_contact:
                on |= int(spec.bit) if value else 0
            else:
                numbers[spec.field] = float(value)
        return known, on, numbers

    def boat_in(self) -> BoatInputs:
        """The boat's inputs as they stand."""
        known, on, numbers = self._level(self._boat, BOAT_INPUT_BY_NAME)
        if not self.config.interlock:
            return BoatInputs(known=known, on=on, **numbers)
        readings = [self._boat[f"own.{k}"] for k in range(len(self.config.interlock))]
        own = OwnInputs(
            sum(1 << k for k, value in enumerate(readings) if value is not None),
            sum(1 << k for k, value in enumerate(readings) if value is True),
            tuple(0.0 if value is None else float(value) for value in (*readings, *[0.0] * 16))[:16],
        )
        return BoatInputs(known=known, on=on, **numbers, own=own)

    def shaft_in(self) -> list[ShaftInputs]:
        """The shafts' inputs as they stand."""
        result = []
        for values in self._shafts:
            known, on, numbers = self._level(values, SHAFT_INPUT_BY_NAME)
            result.append(ShaftInputs(known=known, on=on, **numbers))
        return result

    # ---- time

    def tick(self, dt_s: float = TICK_S) -> Outcome:
        """One tick, `dt_s` after the last."""
        self.now_s += dt_s
        before = self.controller.boat_mode, self.controller.shaft_modes
        out = self.controller.tick(self.now_s, self.boat_in(), self.shaft_in())
        self.out = out
        self.events += out.events
        if out.boat_mode != before[0]:
            self.modes.append((self.now_s, "boat", before[0].name, out.boat_mode.name))
        for name, was, now in zip(self.names, before[1], out.shaft_modes, strict=True):
            if was != now:
                self.modes.append((self.now_s, name, was.name, now.name))
        self._answer(out)
        return out

    def _answer(self, out: Outcome) -> None:
        total_a = 0.0
        known = True
        volts = self._boat["bank.voltage_v"] or 52.0
        if not 20.0 < volts < 100.0:
            volts = 52.0  # what is read is absurd; the bank is not
        for values, command in zip(self._shafts, out.shaft_commands, strict=True):
            if self.precharges and values["drive.link_v"] is not None:
                step_v = volts * TICK_S / 0.5
                if command.permits & ShaftPermit.PRECHARGE:
                    values["drive.link_v"] = min(volts, values["drive.link_v"] + step_v)
            if self.obey and values["drive.torque_nm"] is not None and values["drive.current_a"] is not None:
                rpm = values["drive.machine_speed_rpm"] or 0.0
                shaft_w = command.torque_nm * rpm * RAD_S_PER_RPM  # positive: the drive works
                values["drive.torque_nm"] = command.torque_nm
                values["drive.current_a"] = -shaft_w * 0.93 / volts if shaft_w < 0 else -shaft_w / 0.93 / volts
            if values["drive.current_a"] is None:
                known = False
            else:
                total_a += values["drive.current_a"]
        if self.obey and known and self._boat["bank.current_a"] is not None:
            self._boat["bank.current_a"] = total_a - self.hotel_a

    def run(self, seconds: float, dt_s: float = TICK_S) -> Outcome:
        """Ticks for `seconds`."""
        for _ in range(max(1, round(seconds / dt_s))):
            out = self.tick(dt_s)
        return out

    def until(self, condition: Callable[[], bool], seconds: float) -> float:
        """Tick until `condition()`; returns the time it took (s). Fails after `seconds`."""
        start_s = self.now_s
        while not condition():
            if self.now_s - start_s > seconds:
                raise AssertionError(self.report("a wait", "the awaited state", "nothing"))
            self.tick()
        return self.now_s - start_s

    def press(self, name: str) -> None:
        """Press and release a push-button: one tick off, one on, one off."""
        self[name] = False
        self.tick()
        self[name] = True
        self.tick()
        self[name] = False
        self.tick()

    # ---- ways into the modes

    def ready(self) -> "Rig":
        """From STANDBY to READY, levers in neutral."""
        self.run(0.7)
        self.press("helm.enable")
        self.run(0.1)
        self.expect("a way into READY", "boat", "READY")
        return self

    def propel(self, pct: float = 60.0, seconds: float = 1.0, rpm: float = 600.0) -> "Rig":
        """READY, then every lever ahead, the shafts turning."""
        self.ready()
        self.levers(pct)
        for name in self.names:
            self.speed(name, rpm)
        self.run(seconds)
        self.expect("a way into PROPEL", self.names[0], "PROPEL")
        return self

    def generate(self, seconds: float = 1.0, engine_rpm: float = 2000.0) -> "Rig":
        """READY, engines in gear ahead, charging under way selected."""
        self.ready()
        for name in self.names:
            self.engine(name, engine_rpm, "ahead")
            self.speed(name, engine_rpm / 2.5)
            self[f"{name}.shaft.charge_under_way"] = True
        self.run(seconds)
        self.expect("a way into GENERATE", self.names[0], "GENERATE")
        return self

    def generate_at_rest(self, seconds: float = 1.0, engine_rpm: float = 2000.0) -> "Rig":
        """READY, clutches open, propellers still, engines in gear ahead, charging at rest selected."""
        self.ready()
        for name in self.names:
            self[f"{name}.clutch.closed"], self[f"{name}.clutch.open"] = False, True
            self.engine(name, engine_rpm, "ahead")
            self.speed(name, engine_rpm / 2.5)
            self[f"{name}.shaft.propeller_speed_rpm"] = 0.0
            self[f"{name}.shaft.charge_at_rest"] = True
        self.run(seconds)
        self.expect("a way into GENERATE at rest", self.names[0], "GENERATE")
        return self

    def harvest(self, seconds: float = 1.0, rpm: float = 500.0) -> "Rig":
        """READY, engines stopped, under sail, harvest selected."""
        self.ready()
        for name in self.names:
            self.speed(name, rpm)
            self[f"{name}.shaft.harvest"] = True
        self.run(seconds)
        self.expect("a way into HARVEST", self.names[0], "HARVEST")
        return self

    def handset(self, pct: float = 80.0, seconds: float = 1.0) -> "Rig":
        """READY, then the handset taken and its thrust given."""
        self.ready()
        self["handset.held"] = False
        self.tick()
        self["handset.held"] = True
        self.run(0.8)
        for name in self.names:
            self[f"{name}.handset.thrust_pct"] = pct
        self.run(seconds)
        self.expect("a way into PROPEL by handset", self.names[0], "PROPEL")
        return self

    # ---- what came of it

    def mode(self, subject: str) -> str:
        """Present mode of "boat" or a shaft."""
        if subject == "boat":
            return self.controller.boat_mode.name
        return self.controller.shaft_modes[self.names.index(subject)].name

    def torque(self, shaft: str = "port") -> float:
        """Torque ordered in the last tick (N m)."""
        assert self.out is not None
        return self.out.shaft_commands[self.names.index(shaft)].torque_nm

    def current(self, shaft: str = "port") -> float:
        """The DC current that the ordered torque makes in an ideal drive of 93 % (A, positive into the bank)."""
        rpm = self[f"{shaft}.drive.machine_speed_rpm"] or 0.0
        shaft_w = self.torque(shaft) * rpm * RAD_S_PER_RPM
        volts = self._boat["bank.voltage_v"] or 44.8
        return -shaft_w * 0.93 / volts if shaft_w < 0 else -shaft_w / 0.93 / volts

    def permits(self, shaft: str = "port") -> ShaftPermit:
        """Permits of the last tick."""
        assert self.out is not None
        return ShaftPermit(self.out.shaft_commands[self.names.index(shaft)].permits)

    def alarms(self) -> Alarm:
        """Alarms of the last tick."""
        assert self.out is not None
        return Alarm(self.out.boat_command.alarms)

    def held(self, subject: str) -> list[str]:
        """Names of the condition bits that were set in the last tick."""
        assert self.out is not None
        if subject == "boat":
            return name_bits(self.out.boat_word, BoatCondition)
        return name_bits(self.out.shaft_words[self.names.index(subject)], ShaftCondition)

    # ---- fault reports

    def report(self, rule: str, expected: str, got: str, subject: str = "boat", signal: str = "") -> str:
        """A fault report."""
        lines = ["", f"RULE      {rule}"]
        if signal:
            lines.append(f"SIGNAL    {signal} = {self[signal]}")
        lines += [f"EXPECTED  {expected}", f"GOT       {got}   (at {self.now_s:.2f} s)"]
        lines.append("MODES     " + "; ".join(f"{t:.2f} s {who} {a}->{b}" for t, who, a, b in self.modes[-6:]))
        lines.append("INPUTS")
        lines += [f"          {action}" for action in self._actions[-12:]]
        if self.out is not None:
            lines.append(f"HELD      {subject}: {', '.join(self.held(subject)) or 'nothing'}")
            lines.append(f"ALARMS    {self.alarms()!r}")
            lines.append(
                "ORDERS    "
                + "; ".join(
                    f"{name} {command.torque_nm:.1f} N m, {command.current_a:.1f} A, {ShaftPermit(command.permits)!r}"
                    for name, command in zip(self.names, self.out.shaft_commands, strict=True)
                )
            )
        return "\n".join(lines)

    def expect(self, rule: str, subject: str, *modes: str, signal: str = "") -> None:
        """Fail with a fault report unless `subject` is in one of `modes`."""
        got = self.mode(subject)
        if got not in modes:
            raise AssertionError(self.report(rule, f"{subject} {' or '.join(modes)}", got, subject, signal))

    def expect_zero(self, rule: str, *shafts: str, signal: str = "") -> None:
        """Fail unless the shafts (all, if none is named) are ordered exactly no torque."""
        for name in shafts or self.names:
            if self.torque(name) != 0.0:
                text = self.report(rule, f"{name} 0 N m", f"{self.torque(name):.3f} N m", name, signal)
                raise AssertionError(text)

    def expect_that(self, rule: str, holds: bool, expected: str, got: Any, subject: str = "boat") -> None:
        """Fail with a fault report unless `holds`."""
        if not holds:
            raise AssertionError(self.report(rule, expected, str(got), subject))


class Kept:
    """A boat in a mode, made at its first use and brought back to that moment at each call."""

    def __init__(self, make: Callable[[], Rig]) -> None:
        self._make = make
        self._rig: Rig | None = None
        self._back: Callable[[], None] = lambda: None

    def __call__(self) -> Rig:
        """The boat, as it was when it was made."""
        if self._rig is None:
            self._rig = self._make()
            self._back = self._rig.save()
        else:
            self._back()
        return self._rig
