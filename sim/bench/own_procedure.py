"""A procedure written by itself for one own interlock: what a careful hand would try on the bench, from the boat file.

For each working mode that its effect concerns: just on the good side of its threshold, bad for less than its debounce,
bad, back by less than its hysteresis, good, the way back, not known, and its box silent. Shafts that it does not act on
go on working.
"""

from collections.abc import Sequence
from typing import Any

from sim.bench.own_modes import Expect, Mode, Step, ahead, enable, neutral, power_up, step, stop_boat, working_modes
from sim.bench.toml_text import procedure_toml
from sim.errors import BenchError
from sim.nodes.own import edges, name_of, own_rows, sides_of, unknown_code
from sim.requirements import own_identifier
from supervisor.bus import OWN, BoatMap, InputRow
from supervisor.config import BoatConfig
from supervisor.config.interlocks import acts_on
from supervisor.config.schema import Interlock

_HOLD_S = 0.6
"""How long what is reached is watched."""


def interlock_procedure(config: BoatConfig, boat_map: BoatMap, name: str) -> str:
    """The procedure file's text. Raises BenchError where the boat has no such interlock, or nothing to show it on."""
    names = [entry.name for entry in config.interlock]
    if name not in names:
        raise BenchError(f"there is no interlock {name!r} in this boat file; it has: {', '.join(names) or 'none'}")
    if not config.shaft:
        raise BenchError("a boat without shafts has nothing that an interlock could act on")
    channel = names.index(name)
    writer = _Writer(config, boat_map, config.interlock[channel], own_rows(boat_map)[channel])
    entry = writer.entry
    return procedure_toml(
        {
            "title": f"Interlock {name}: {entry.bad}",
            "boat": config.boat.name,
            "purpose": f"Shows interlock {name} ({entry.effect}): its effect in each mode that it concerns, its "
            f"debounce of {entry.debounce_s:g} s, an unknown signal, and the way back.",
            "requirements": [own_identifier(name)],
        },
        writer.steps(),
        f"Written by: thwart bench BOAT --interlock {name} --write FILE\n"
        "Write it again after a change of the boat file.",
    )


class _Writer:
    """Writes the steps for one interlock."""

    def __init__(self, config: BoatConfig, boat_map: BoatMap, entry: Interlock, row: InputRow) -> None:
        self.config, self.entry, self.row = config, entry, row
        self.target = f"interlock.{name_of(row)}"
        shafts = [shaft.name for shaft in config.shaft]
        mine = [shafts[number] for number in acts_on(config, entry)]
        self.mine = ["each"] if len(mine) == len(shafts) else mine
        self.others = [shaft for shaft in shafts if shaft not in mine]
        self.first = mine[0]
        self.modes = working_modes(config)
        tick_s, period_s = config.boat.tick_s, row.message.period_s or row.stale_s / 4.0
        self.lag_s = sides_of(row).frames * period_s + 4 * tick_s
        self.acts_s = entry.debounce_s + self.lag_s
        self.early_s = entry.debounce_s - 2 * tick_s
        self.blip_s = entry.debounce_s - sides_of(row).frames * period_s - 2 * tick_s
        self.back_s = 4 * period_s + 4 * tick_s
        alone = all(
            one.level == OWN for one in boat_map.inputs if (one.bus, one.message.name) == (row.bus, row.message.name)
        )
        self.box = f"own.{row.message.name.lower()}" if alone else ""
        found = None if row.spec.is_contact else edges(row)
        self.under = None if found is None else found.not_bad
        self.over: float | str = "bad" if found is None or found.bad is None else found.bad
        self.not_yet = None if found is None else found.not_good
        self.good: float | str = "good" if found is None or found.good is None else found.good

    def steps(self) -> list[Step]:
        """All of it."""
        effect = self.entry.effect
        found = [*power_up(), *self._put("good", self.good, [self._is("good", self.back_s)])]
        if effect == "trip_boat":
            found += self._bars_enabling()
        found += enable(self.config)
        make = {
            "warn": self._warn,
            "inhibit_thrust": self._inhibit_thrust,
            "limit_thrust": self._limit,
            "inhibit_charge": self._inhibit_charge,
            "inhibit_engine_start": self._engine_start,
            "trip_shaft": self._trip,
            "trip_boat": self._trip,
        }.get(effect)
        if make is not None:
            return found + make()
        if effect in ("stop_thrust", "ramp_thrust", "stop_both"):
            found += self._ends_thrust(self.modes["thrust"])
        if effect in ("unload_charge", "stop_charge", "stop_both"):
            for name in ("generate", "at_rest", "harvest"):
                if name in self.modes:
                    found += self._ends_charge(self.modes[name])
        return found

    # ---- words

    def _all(self, signal: str, names: Sequence[str] | None = None, **kind: Any) -> list[Expect]:
        """The same of each shaft that it acts on, or of `names`."""
        return [{"signal": f"{name}.{signal}", **kind} for name in (self.mine if names is None else names)]

    def _put(self, words: str, value: float | str, expect: Sequence[Expect], wait_s: float = 0.0) -> list[Step]:
        said = f"{words}: {value:g} {self.row.spec.unit}".rstrip() if isinstance(value, float) else words
        # its alarm stays until acknowledged; the next time it shall come anew
        acknowledged = {"helm.acknowledge": "press"} if value == self.good else {}
        return [step(f"{self.entry.name} {said}", expect, wait_s, do={self.target: value, **acknowledged})]

    def _is(self, state: str, within_s: float) -> Expect:
        """What the supervisor holds it for."""
        return {"signal": self.target, "value": state, "within_s": round(within_s, 6)}

    def _alarms(self, within_s: float) -> list[Expect]:
        """An alarm of an own interlock, as any supervisor says on its bus; in the words of this one, as ours says."""
        return [
            {"event": "alarm", "says": says, "within_s": round(within_s, 6)}
            for says in ("own interlock", self.entry.bad)
        ]

    @staticmethod
    def _always(expect: Sequence[Expect]) -> list[Expect]:
        return [{**one, "always": True} for one in expect]

    @staticmethod
    def _soon(expect: Sequence[Expect], within_s: float) -> list[Expect]:
        return [{**one, "within_s": round(within_s + one.get("within_s", 0.0), 6)} for one in expect]

    # ---- the pattern

    def _quiet(self, held: Sequence[Expect]) -> list[Step]:
        """What must change nothing: just under the threshold; bad for less than the debounce."""
        found: list[Step] = []
        calm = self._always([*held, {"signal": self.target, "value": "good"}])
        if self.under is not None:
            found += self._put("just on its good side", self.under, calm, self.acts_s + _HOLD_S)
            found += self._put("good", self.good, calm, self.lag_s)
        if self.blip_s > 0.0:
            found += self._put("bad for less than its debounce", self.over, calm, self.blip_s)
            found += self._put("good again", self.good, calm, self.acts_s)
        return found

    def _bad(self, held: Sequence[Expect], acts: Sequence[Expect], others: Sequence[Expect] = ()) -> list[Step]:
        """Bad: not before its debounce, then at once. `acts` count their time from then."""
        found: list[Step] = []
        gone_s = 0.0
        if self.early_s > 0.0:
            gone_s = self.early_s
            calm = self._always([*held, {"signal": self.target, "value": "good"}])
            found += self._put("bad, not yet for its debounce", self.over, calm, gone_s)
        left_s = self.acts_s - gone_s
        expect = [*self._soon(acts, left_s), self._is("bad", left_s), *self._alarms(left_s), *self._always(others)]
        if found:
            found.append(step(f"{self.entry.name} bad for its debounce: {self.entry.effect}", expect, left_s + _HOLD_S))
        else:
            found += self._put(f"bad: {self.entry.effect}", self.over, expect, left_s + _HOLD_S)
        return found

    def _not_yet_good(self, stays: Sequence[Expect]) -> list[Step]:
        """Back, but by less than the hysteresis."""
        if self.not_yet is None:
            return []
        calm = self._always([*stays, {"signal": self.target, "value": "bad"}])
        return self._put("back by less than its hysteresis", self.not_yet, calm, self.acts_s + _HOLD_S)

    def _unknown(self) -> list[tuple[list[Step], float, list[Step]]]:
        """Ways not to be known: steps that bring it about, the time they take, steps back to good."""
        back = self._put("good", self.good, [self._is("good", self.back_s + self.lag_s)])
        late_s = 0.0 if unknown_code(self.row) is not None else self.row.stale_s
        found = [([step(f"{self.entry.name} unknown", do={self.target: "unknown"})], late_s, back)]
        if self.box:
            silent = [{"fault": "node_silent", "target": self.box}]
            again = step("The box is heard again", [self._is("good", self.back_s + self.lag_s)], clear=silent)
            found.append(([step(f"The box {self.box} falls silent", inject=silent)], self.row.stale_s, [again]))
        return found

    def _each_unknown(
        self, enter: Sequence[Step], acts: Sequence[Expect], leave: Sequence[Step], others: Sequence[Expect] = ()
    ) -> list[Step]:
        """Not known counts as bad: each way not to be known, from `enter`, to `leave`."""
        found: list[Step] = []
        if self.entry.unknown == "good":
            calm = self._always([{"signal": self.target, "value": "good"}])
            for way, late_s, back in self._unknown():
                found += [{**way[0], "expect": calm, "wait_s": round(late_s + self.acts_s + _HOLD_S, 6)}, *back]
            return found
        for way, late_s, back in self._unknown():
            within_s = self.acts_s + late_s
            expect = [*self._soon(acts, within_s), self._is("bad", within_s), *self._always(others)]
            found += [*enter, {**way[0], "expect": expect, "wait_s": round(within_s + _HOLD_S, 6)}, *back, *leave]
        return found

    # ---- the effects

    def _warn(self) -> list[Step]:
        alarm = {"event": "alarm", "never": True}
        gone = {"event": "gone", "says": self.entry.good, "within_s": round(self.lag_s, 6)}
        found = self._quiet([])
        for one in found:
            one["expect"] = [*one["expect"], alarm]
        found += [*self._bad([], []), *self._not_yet_good([])]
        found += self._put("good again", self.good, [self._is("good", self.lag_s), gone])
        return [*found, *self._each_unknown([], [], [])]

    def _ends_thrust(self, mode: Mode) -> list[Step]:
        """stop_thrust, ramp_thrust, stop_both: under thrust, and while thrust is being unloaded."""
        ramps = self.entry.effect == "ramp_thrust"
        ramp_s = self.config.limits.lever_ramp_s
        held = [*self._all("mode", value="PROPEL"), *self._all("order_nm", op=">", value=1.0)]
        zero = self._all("order_nm", value=0.0, for_s=0.5)
        acts = [*self._all("mode", value="UNLOAD" if ramps else "REST")]
        acts += self._soon(zero, ramp_s + 0.2) if ramps else zero
        others = self._all("mode", self.others, value="PROPEL")
        stays = self._all("order_nm", value=0.0)
        says = {"explain": f"{self.first} PROPEL", "says": self.entry.bad}
        found = [*mode.enter, *self._quiet([*held, *others]), *self._bad([*held, *others], acts, others)]
        found[-1]["expect"].append(says)
        if ramps and ramp_s >= 1.0:
            # the ramp is no step: half-way there is still thrust
            last = found[-1]
            last["expect"].append(
                {
                    **self._all("order_nm")[0],
                    "op": ">",
                    "value": 0.5,
                    "within_s": round(self.acts_s + 0.2, 6),
                    "for_s": round(ramp_s / 4.0, 6),
                }
            )
        found += self._not_yet_good(stays)
        found += self._put(
            "good again, levers still ahead: nothing comes back by itself",
            self.good,
            [self._is("good", self.lag_s), *self._always(stays), *self._always(others)],
            1.0,
        )
        found += [*mode.leave, *mode.enter, *mode.leave]
        found += self._each_unknown(mode.enter, acts, mode.leave, others)
        if not ramps:
            found += self._in_unload(mode, ramp_s, self._all("mode", value="REST"))
        return found

    def _ends_charge(self, mode: Mode) -> list[Step]:
        """unload_charge, stop_charge, stop_both: charging, and while charging is being unloaded."""
        at_once = self.entry.effect != "unload_charge"
        held = self._all("mode", value=mode.shows)
        zero = self._all("order_nm", value=0.0, for_s=0.5)
        acts = self._all("mode", value="REST") if at_once else self._all("mode", op="!=", value=mode.shows)
        acts += zero if at_once else self._soon(zero, 8.0)
        others = self._all("mode", self.others, value=mode.shows)
        stays = self._all("mode", op="!=", value=mode.shows)
        says = {"explain": f"{self.first} {mode.shows}", "says": self.entry.bad}
        found = [*mode.enter, *self._quiet([*held, *others]), *self._bad([*held, *others], acts, others)]
        found[-1]["expect"].append(says)
        found += self._not_yet_good(stays)
        again = self._soon(held, self.lag_s + 6.0)
        found += self._put("good again: charging comes back", self.good, [*again, *self._always(others)], 6.0)
        found += self._each_unknown([step(f"Still {mode.title}", again)], acts, [], others)
        found += [*mode.leave]
        if at_once and mode.unload:
            found += self._in_unload(mode, 1.0, self._all("mode", value="REST"))
        return found

    def _in_unload(
        self, mode: Mode, lasts_s: float, shown: Sequence[Expect], leave: Sequence[Step] | None = None
    ) -> list[Step]:
        """While torque is being led to zero anyway, for `lasts_s`: the effect does not wait for that. `shown` is where
        it leads then, `leave` the way out of it."""
        before_s = max(0.0, self.entry.debounce_s - 0.4)
        left_s = self.acts_s - before_s
        if left_s + 0.2 >= 0.8 * lasts_s or not mode.unload:
            return []
        zero = [*self._all("order_nm", value=0.0), *shown]
        unloads = [{"signal": f"{self.first}.mode", "value": "UNLOAD"}]
        found = [*mode.enter]
        if before_s > 0.0:
            found += self._put(f"bad, and soon for its debounce, in {mode.title}", self.over, [], before_s)
            found += [{**mode.unload[0], "expect": [*unloads, *self._soon(zero, left_s)]}]
            found[-1]["expect"][0] = {**unloads[0], "within_s": 0.2}
        else:
            found += [{**mode.unload[0], "expect": unloads}]
            found += self._put(
                "bad while torque is being unloaded: it is zero at once", self.over, self._soon(zero, left_s)
            )
        found += self._put("good", self.good, [self._is("good", self.back_s)])
        return [*found, *mode.mend, *(mode.leave if leave is None else leave)]

    def _inhibit_thrust(self) -> list[Step]:
        """A start is barred; what runs goes on, and passing neutral is no start."""
        thrust = self.modes["thrust"]
        says = {"explain": f"{self.first} PROPEL", "says": self.entry.bad}
        none = self._always(self._all("order_nm", value=0.0))
        asked = step("Levers ahead: no thrust begins", [*none, says], 2.0, do={"each.lever_pct": 60.0})
        if self.others:
            asked["expect"] += self._all("mode", self.others, value="PROPEL")
        found = [*self._quiet([]), *self._bad([], []), asked, *self._not_yet_good(none), *neutral(self.config)]
        found += self._each_unknown([], [], [])
        held = self._all("mode", value="PROPEL")
        found += [*self._put("good", self.good, [self._is("good", self.back_s)]), *thrust.enter]
        found += self._put("bad while thrust runs: it goes on", self.over, self._always(held), self.acts_s + 2.0)
        found += [*neutral(self.config), *ahead(self.config)]
        found[-1]["name"] = "Ahead again: passing neutral is no start"
        return [*found, *self._put("good", self.good, [self._is("good", self.back_s)]), *neutral(self.config)]

    def _limit(self) -> list[Step]:
        """Thrust ahead is limited, at once but for the belt's slew; it returns at the derate's rate."""
        entry, shafts = self.entry, {shaft.name: shaft for shaft in self.config.shaft}
        limit_pct, rate = entry.limit_pct or 100.0, self.config.limits.derate_rate_pct_per_s
        names = list(shafts) if self.mine == ["each"] else self.mine
        rated = {name: shafts[name].drive.rated_torque_nm for name in names}

        def within(percent: float, **kind: Any) -> list[Expect]:
            return [
                {"signal": f"{name}.order_nm", "op": "<=", "value": round(nm * percent / 100.0, 3), "tol": 0.01, **kind}
                for name, nm in rated.items()
            ]

        def beyond(percent: float, sign: str = "", **kind: Any) -> list[Expect]:
            size = -1.0 if sign else 1.0
            return [
                {
                    "signal": f"{name}.order_nm",
                    "op": "<" if sign else ">",
                    "value": round(size * nm * percent / 100.0, 3),
                    **kind,
                }
                for name, nm in rated.items()
            ]

        full = ahead(self.config, 100.0)
        room = limit_pct <= 70.0
        held = beyond(limit_pct * 1.1) if room else []
        others = self._all("mode", self.others, value="PROPEL")
        slew_s = max(nm / shafts[name].drive.torque_slew_nm_per_s for name, nm in rated.items())
        acts = within(limit_pct, within_s=slew_s, for_s=1.0)
        on = self._all("mode", value="PROPEL")
        found = [*full, *self._quiet([*held, *others]), *self._bad([*held, *others], acts, [*on, *others])]
        found += self._not_yet_good(within(limit_pct))
        rises = within(limit_pct + rate * (1.0 + self.lag_s), always=True)
        found += self._put("good again: thrust returns by the derate's rate", self.good, rises, 1.0)
        if room:
            back_s = limit_pct * 0.1 / rate + self.lag_s + 2.0
            found.append(step("and does return", beyond(limit_pct * 1.1, within_s=round(back_s, 3))))
        found += self._each_unknown([], acts, [], on)
        found += [*neutral(self.config), *stop_boat()]
        found += self._put("bad", self.over, [self._is("bad", self.acts_s)])
        if entry.astern:
            tight = [{**one, "op": ">=", "value": -one["value"]} for one in within(limit_pct, always=True)]
            astern = step("Full astern: limited as well", tight, 4.0, do={"each.lever_pct": -100.0})
        else:
            free = beyond(limit_pct * 1.1, "-", within_s=4.0) if room else []
            astern = step("Full astern: not limited", free, 4.0, do={"each.lever_pct": -100.0})
        found += [astern, *self._put("good", self.good, [self._is("good", self.back_s)]), *neutral(self.config)]
        return found

    def _inhibit_charge(self) -> list[Step]:
        """Charging does not begin; what runs goes on."""
        mode = self.modes["generate"]
        says = {"explain": f"{self.first} GENERATE", "says": self.entry.bad}
        none = self._always(self._all("mode", op="!=", value="GENERATE"))
        selected = {
            **mode.enter[-1],
            "name": "Charge under way is selected: none begins",
            "wait_s": 3.0,
            "expect": [*none, says, *self._soon(self._all("mode", self.others, value="GENERATE"), 1.0)],
        }
        held = self._all("mode", value="GENERATE")
        found = [*mode.enter[:-1], *self._quiet([]), *self._bad([], []), selected, *self._not_yet_good(none)]
        found += self._put("good: charging begins", self.good, self._soon(held, self.lag_s + 0.2), 2.0)
        found += self._put("bad while charging runs: it goes on", self.over, self._always(held), self.acts_s + 2.0)
        found += [*self._put("good", self.good, [self._is("good", self.back_s)])]
        off = step("Charging off", self._soon(self._all("mode", value="REST"), 8.0), do={"each.charge": "off"})
        again = {**selected, "name": "Charge selected while it is unknown: none begins"}
        for way, late_s, back in self._unknown():
            expect = [self._is("bad", self.acts_s + late_s)]
            found += [off, {**way[0], "expect": expect}, again, *back]
        return [*found, *mode.leave]

    def _engine_start(self) -> list[Step]:
        """The start permit is withheld, and the refusal says why."""
        given = self._all("engine_start", value=1.0)
        withheld = self._all("engine_start", value=0.0)
        others = self._all("engine_start", self.others, value=1.0)
        key = step(
            "Turn the key: the engine does not crank",
            [
                {"event": "refusal", "says": self.entry.bad, "within_s": 1.0},
                *self._always(self._all("engine_running", value=0.0)),
            ],
            6.0,
            do={f"{name}.engine": "start" for name in self.mine},
        )
        found = [*self._quiet([*given, *others]), *self._bad([*given, *others], withheld, others), key]
        found += self._not_yet_good(withheld)
        found += self._put("good again", self.good, self._soon(given, self.lag_s))
        return [*found, *self._each_unknown([], withheld, [], others)]

    def _trip(self) -> list[Step]:
        """trip_shaft and trip_boat: at rest, and under thrust; the way back is reset, and fresh neutral."""
        boat = self.entry.effect == "trip_boat"
        thrust = self.modes["thrust"]
        shown = [{"signal": "boat.mode", "value": "TRIPPED"}] if boat else self._all("mode", value="ISOLATED")
        zero = self._all("order_nm", value=0.0, for_s=0.5)
        pressed = {"helm.reset": "press"}
        goal = {"signal": "boat.mode", "value": "STANDBY"} if boat else {**shown[0], "value": "REST"}
        refused = step(
            "Reset is refused while it is bad",
            [*self._always(shown), {"event": "refusal", "says": self.entry.bad, "within_s": 1.0}],
            1.0,
            do=pressed,
        )
        reset = step("Reset", [{**goal, "within_s": 1.0}], 1.0, do=pressed)
        recover = [*stop_boat(), reset, *(enable(self.config) if boat else [])]
        good = self._put(
            "good again: it stays tripped", self.good, [self._is("good", self.lag_s), *self._always(shown)], 1.0
        )
        rest = self._all("mode", value="REST")
        found = [*self._quiet(rest), *self._bad(rest, [*shown, *zero]), refused, *self._not_yet_good(shown), *good]
        found += recover
        held = self._all("mode", value="PROPEL")
        others = [] if boat else self._all("mode", self.others, value="PROPEL")
        found += [*thrust.enter, *self._bad([*held, *others], [*shown, *zero], others), *good, *thrust.leave, *recover]
        leave = [*thrust.leave, *recover]
        found += self._each_unknown(thrust.enter, [*shown, *zero], leave, others)
        found += self._in_unload(thrust, self.config.limits.lever_ramp_s, shown, leave)
        return [*found, *thrust.enter, *thrust.leave]

    def _bars_enabling(self) -> list[Step]:
        """trip_boat in STANDBY: no trip, but no way to READY either."""
        standby = {"signal": "boat.mode", "value": "STANDBY", "always": True}
        found = self._put("bad in STANDBY: no trip", self.over, [standby, self._is("bad", self.acts_s)], self.acts_s)
        found.append(
            step(
                "Enable is refused",
                [standby, {"event": "refusal", "says": self.entry.bad, "within_s": 1.0}],
                1.0,
                do={"helm.enable": "press"},
            )
        )
        return [*found, *self._put("good", self.good, [self._is("good", self.back_s)])]
