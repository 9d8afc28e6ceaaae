"""Evaluators of the owner's own interlocks: one for each `[[interlock]]` of the boat file, by its name.

Restated from the boat file's own keys and docs/boat-file.md; no rule and no frozen limit is read.
What an interlock is held for here comes from its signal alone: bad after its debounce, good at once, unknown bad.
Where the records begin in the middle nothing is known of it until its signal has said so.
"""

from collections.abc import Sequence
from typing import NamedTuple

from sim.requirements.facts import BOAT, RAD_S_PER_RPM, no, yes
from sim.requirements.judge import Judge
from sim.requirements.tick import FIRST_FRAMES_S, BoatTick, ShaftTick
from supervisor.config.schema import Interlock
from supervisor.modes import BoatCondition, BoatMode, ShaftCondition, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm, OwnInputs, ShaftPermit

_EPS_S = 1e-6
_LIVE = (BoatMode.NEUTRAL_WAIT, BoatMode.READY)
_SOURCES = (ShaftMode.GENERATE, ShaftMode.HARVEST)
_NO_CURRENT_A = 0.5
"""Less than this is none: voltage and speed move an aimed current a little while its torque stands."""
_FALL_PART = 0.8
"""The torque of charging that is led to zero falls by the rate of its current at this speed and voltage; a shaft that
turns faster as its load goes makes the current fall that much slower."""
_LONGEST_RAMP_S = 0.1
"""A late tick moves a ramp no further than this one does."""

_BITS: dict[str, tuple[ShaftCondition, ...]] = {
    "inhibit_thrust": (ShaftCondition.OWN_THRUST_START,),
    "stop_thrust": (ShaftCondition.OWN_THRUST,),
    "ramp_thrust": (ShaftCondition.OWN_THRUST_STAYS,),
    "inhibit_charge": (ShaftCondition.OWN_CHARGE_START,),
    "unload_charge": (ShaftCondition.OWN_CHARGE_STAYS,),
    "stop_charge": (ShaftCondition.OWN_CHARGE,),
    "stop_both": (ShaftCondition.OWN_THRUST, ShaftCondition.OWN_CHARGE),
    "trip_shaft": (ShaftCondition.OWN_SHAFT,),
}
"""The bits that an effect holds clear while it acts on a shaft."""

_WORDS = {
    "warn": "an alarm stands",
    "inhibit_thrust": "thrust does not begin",
    "stop_thrust": "there is no thrust, at once",
    "ramp_thrust": "thrust goes to zero in the ramp's time",
    "limit_thrust": "thrust ahead stays within {limit_pct:g} % of rated torque and power",
    "inhibit_charge": "charging does not begin",
    "unload_charge": "charging is led to zero",
    "stop_charge": "there is no charging, at once",
    "stop_both": "there is neither thrust nor charging, at once",
    "inhibit_engine_start": "no engine start is permitted",
    "trip_shaft": "the shaft goes to ISOLATED in NEUTRAL_WAIT and READY",
    "trip_boat": "a boat in NEUTRAL_WAIT or READY goes to TRIPPED, and ENABLE is refused",
}

_UNITS = {"stop_thrust": "N m", "ramp_thrust": "s", "limit_thrust": "N m", "stop_charge": "N m", "stop_both": "N m"}


OWN_PREFIX = "interlock "


def own_identifier(name: str) -> str:
    """How verdicts call an own interlock."""
    return f"{OWN_PREFIX}{name}"


def own_sentence(entry: Interlock) -> str:
    """What must hold, in one sentence with the boat file's own words and numbers."""
    where = f" ({', '.join(entry.shafts)})" if entry.shafts is not None else ""
    unknown = ", or its signal is unknown," if entry.unknown == "bad" else ""
    after = f" for {entry.debounce_s:g} s" if entry.debounce_s else ""
    effect = _WORDS[entry.effect].format(limit_pct=entry.limit_pct or 0.0)
    if entry.astern:
        effect = effect.replace("thrust ahead", "thrust")
    return f"While {entry.bad}{after}{unknown} {effect}{where}; not before, and not otherwise."


class Held(NamedTuple):
    """What an interlock is held for at one tick. `bad` and `good` are both False while it may be either; `since_s` is
    since when it surely is bad (s)."""

    bad: bool
    good: bool
    since_s: float


class OwnSignal:
    """One interlock's signal, followed from tick to tick."""

    def __init__(self, channel: int, entry: Interlock) -> None:
        self.entry = entry
        self._bit = 1 << channel
        self._channel = channel
        self.forget()

    def forget(self) -> None:
        """Nothing is known of what was before."""
        self._reads_bad: bool | None = None
        self._bad_from_s: float | None = None
        self._state: bool | None = None
        self._sure_s = 0.0

    def _reads(self, own: OwnInputs) -> bool | None:
        """Whether the signal says bad now; None between its two thresholds."""
        entry = self.entry
        if not own.known & self._bit:
            return entry.unknown == "bad"
        if entry.good_when is not None:
            return bool(own.on & self._bit) != (entry.good_when == "on")
        value, back = own.values[self._channel], entry.hysteresis or 0.0
        if entry.bad_above is not None:
            return True if value >= entry.bad_above else False if value <= round(entry.bad_above - back, 9) else None
        limit = entry.bad_below or 0.0
        return True if value <= limit else False if value >= round(limit + back, 9) else None

    def look(self, own: OwnInputs, time_s: float, tick_s: float) -> Held:
        """What it is held for at this tick."""
        reads = self._reads(own)
        if reads is not None:
            self._reads_bad = reads
        if self._reads_bad is False:
            self._state, self._bad_from_s = False, None
            return Held(False, True, 0.0)
        if self._reads_bad is None:
            return Held(False, False, 0.0)
        if self._bad_from_s is None:
            self._bad_from_s = time_s
        lasted_s = time_s - self._bad_from_s
        if self._state is not True and lasted_s >= self.entry.debounce_s + tick_s - _EPS_S:
            self._state, self._sure_s = True, time_s
        early = self._state is False and lasted_s < self.entry.debounce_s - _EPS_S
        return Held(self._state is True, early, self._sure_s)


class OwnJudge(Judge):
    """One own interlock: its effect follows its debounce within a tick, in every mode; never before, nor elsewhere."""

    def __init__(self, boat: Boat, channel: int, interlocks: Sequence[Interlock], names: Sequence[str]) -> None:
        self.entry = entry = interlocks[channel]
        self.identifier = own_identifier(entry.name)
        self.unit = _UNITS.get(entry.effect, "")
        super().__init__(boat)
        self.at_once = entry.effect in ("inhibit_thrust", "inhibit_charge")
        self._channel = channel
        self._signals = [OwnSignal(number, one) for number, one in enumerate(interlocks)]
        self._shafts = [self._acts_on(entry, name) for name in names]
        self._others = interlocks
        self._names = tuple(names)
        self.forget()

    @staticmethod
    def _acts_on(entry: Interlock, name: str) -> bool:
        return entry.shafts is None or name in entry.shafts

    def forget(self) -> None:
        count = len(self._shafts)
        for signal in self._signals:
            signal.forget()
        self._began: list[bool | None] = [None] * count
        self._barred = [False] * count
        self._neutral_s: list[float | None] = [None] * count
        self._left_a: list[float | None] = [None] * count
        self._limited_s: float | None = None
        self._good: tuple[bool, ...] = (False,) * len(self._signals)
        self._bad: tuple[bool, ...] = (True,) * len(self._signals)
        self._acknowledged = all(one.effect == "warn" for one in self._others)
        self._owed = False

    def judge(self, tick: BoatTick) -> None:
        held = [signal.look(tick.bank.own, tick.time_s, tick.tick_s) for signal in self._signals]
        mine = held[self._channel]
        self._alarm(tick, held)
        self._boat(tick, held)
        for shaft in tick.shafts:
            self._follow(tick, shaft)
            if self._shafts[shaft.number]:
                self._shaft(tick, shaft, mine)
            self._bits(tick, shaft, held)
        if mine.bad and self.entry.effect == "limit_thrust":
            self._limited_s = tick.time_s

    # ---- alarm and boat

    def _alarm(self, tick: BoatTick, held: Sequence[Held]) -> None:
        stands = bool(tick.command.alarms & Alarm.OWN_INTERLOCK.value)
        if held[self._channel].bad and tick.age_s > FIRST_FRAMES_S + tick.tick_s:
            self._yes_or_no(tick, stands, f"{self.entry.bad}: no alarm for it" if not stands else self.entry.bad)
        self._acknowledged_since(tick, held)
        if self._owed and not stands and tick.age_s > FIRST_FRAMES_S + tick.tick_s:
            self._yes_or_no(tick, False, "an own interlock was bad and is not acknowledged: no alarm stands")
        if stands and self._acknowledged and all(one.good for one in held):
            self._yes_or_no(tick, False, "an alarm of own interlocks stands: all of them are good, and acknowledged")

    def _acknowledged_since(self, tick: BoatTick, held: Sequence[Held]) -> None:
        """Whether the crew has acknowledged since an own interlock last left good: until then its alarm stays."""
        good = tuple(one.good for one in held)
        was = tick.was_bank
        pressed = yes(tick.bank, BOAT.ACKNOWLEDGE) and was is not None and no(was, BOAT.ACKNOWLEDGE)
        went = zip(self._good, good, self._others, strict=True)
        if any(before and not now and one.effect != "warn" for before, now, one in went):
            self._acknowledged = False
        elif pressed or (all(good) and not tick.command.alarms & Alarm.OWN_INTERLOCK.value):
            self._acknowledged = True
        bad = tuple(one.bad for one in held)
        if tick.mode in _LIVE and tick.was_mode in _LIVE:
            came = zip(self._bad, bad, self._others, strict=True)
            self._owed = self._owed or any(now and not before and one.effect != "warn" for before, now, one in came)
        if pressed:
            self._owed = False
        self._good, self._bad = good, bad

    def _boat(self, tick: BoatTick, held: Sequence[Held]) -> None:
        mine = held[self._channel]
        live = tick.mode in _LIVE
        if self.entry.effect != "trip_boat":
            return
        if mine.bad:
            left = tick.was_mode == BoatMode.TRIPPED and tick.mode != BoatMode.TRIPPED
            self._yes_or_no(tick, not live and not left, f"boat {tick.mode.name} while {self.entry.bad}")
            for shaft in tick.shafts:
                self.note_zero(tick, shaft, self.entry.bad)
        if tick.word is not None:
            clear = not tick.word & BoatCondition.OWN_BOAT
            if mine.bad:
                self._yes_or_no(tick, clear, f"the boat's word does not say that {self.entry.bad}")
            elif clear and all(
                one.good for one, entry in zip(held, self._others, strict=True) if entry.effect == "trip_boat"
            ):
                self._yes_or_no(tick, False, "the boat is held back with every own interlock good that trips it")

    # ---- one shaft

    def _follow(self, tick: BoatTick, shaft: ShaftTick) -> None:
        """Whether the shaft has propelled since READY; fresh neutral after a thrust that was ended."""
        number = shaft.number
        if tick.mode != BoatMode.READY:
            self._began[number] = False
        elif self._began[number] is not None and shaft.was is not None and shaft.was.mode == ShaftMode.PROPEL:
            self._began[number] = True
        if not shaft.neutral:
            self._neutral_s[number] = None
        elif self._neutral_s[number] is None:
            self._neutral_s[number] = tick.time_s

    def _shaft(self, tick: BoatTick, shaft: ShaftTick, mine: Held) -> None:
        effect = self.entry.effect
        if effect == "inhibit_thrust":
            self._inhibit_thrust(tick, shaft, mine)
        elif effect in ("stop_thrust", "stop_both", "ramp_thrust"):
            self._end_thrust(tick, shaft, mine)
        elif effect == "limit_thrust":
            self._limit(tick, shaft, mine)
        if effect in ("inhibit_charge", "unload_charge", "stop_charge", "stop_both"):
            self._charge(tick, shaft, mine)
        if effect == "inhibit_engine_start" and mine.bad:
            given = bool(shaft.command.permits & ShaftPermit.ENGINE_START.value)
            self._yes_or_no(tick, not given, f"{shaft.name}: engine start permitted while {self.entry.bad}")
        if effect == "trip_shaft" and mine.bad:
            if tick.mode in _LIVE:
                self.note_zero(tick, shaft, self.entry.bad)
            gone = shaft.was is not None and shaft.was.mode == ShaftMode.ISOLATED and shaft.mode != ShaftMode.ISOLATED
            sound = not gone and (shaft.mode == ShaftMode.ISOLATED or tick.mode not in _LIVE)
            self._yes_or_no(tick, sound, f"{shaft.name}: {shaft.mode.name} while {self.entry.bad}")

    def _inhibit_thrust(self, tick: BoatTick, shaft: ShaftTick, mine: Held) -> None:
        starts = shaft.mode == ShaftMode.PROPEL and shaft.was is not None and shaft.was.mode != ShaftMode.PROPEL
        if mine.bad and self._began[shaft.number] is False:
            words = "began" if starts else "does not begin"
            self._yes_or_no(tick, not starts, f"{shaft.name}: thrust {words} while {self.entry.bad}")

    def _end_thrust(self, tick: BoatTick, shaft: ShaftTick, mine: Held) -> None:
        number, ramps = shaft.number, self.entry.effect == "ramp_thrust"
        thrust_nm = shaft.torque_nm if shaft.propels else 0.0
        was_nm = shaft.was.torque_nm if shaft.was is not None and shaft.was.propels else 0.0
        if mine.bad:
            if thrust_nm or was_nm:
                self._barred[number] = True
            self._yes_or_no(
                tick, shaft.mode != ShaftMode.PROPEL, f"{shaft.name}: {shaft.mode.name} while {self.entry.bad}"
            )
            if not ramps:
                self.note_zero(tick, shaft, self.entry.bad, thrust_nm)
            elif thrust_nm:
                left_s = shaft.lim.lever_ramp_s + 2 * tick.tick_s - (tick.time_s - mine.since_s)
                if abs(thrust_nm) > abs(was_nm) + 1e-6:
                    left_s = -1.0  # it grew
                self.note(
                    tick,
                    left_s,
                    lambda: (
                        f"{shaft.name}: {thrust_nm:.1f} N m, {tick.time_s - mine.since_s:.2f} s after: {self.entry.bad}"
                    ),
                )
        elif self._barred[number] and shaft.mode == ShaftMode.PROPEL and thrust_nm:
            self._yes_or_no(tick, False, f"{shaft.name}: thrust without fresh neutral after: {self.entry.bad}")
        since_s = self._neutral_s[number]
        if since_s is not None and tick.time_s - since_s >= tick.lim.neutral_s - tick.tick_s - _EPS_S:
            self._barred[number] = False

    def _limit(self, tick: BoatTick, shaft: ShaftTick, mine: Held) -> None:
        """The limit itself is there at once; torque comes down to it by the belt's slew, and returns with the limit."""
        least_pct = self.entry.limit_pct or 0.0
        if mine.bad:
            limit_pct = least_pct
        elif self._limited_s is None:
            return
        else:
            rise = tick.lim.derate_rate_pct_per_s * (tick.time_s - self._limited_s + tick.tick_s)
            limit_pct = least_pct + rise
        if limit_pct >= 100.0 or not shaft.propels:
            return
        ahead_nm = abs(shaft.torque_nm) if self.entry.astern else shaft.torque_nm
        if shaft.torque_nm * shaft.facts.rpm < 0.0 or not ahead_nm > 0.0:
            return
        most_nm = shaft.lim.rated_torque_nm * limit_pct / 100.0
        omega = abs(shaft.facts.rpm) * RAD_S_PER_RPM
        if omega > 0.0:
            most_nm = min(most_nm, shaft.lim.rated_power_w * limit_pct / 100.0 / omega)
        was_nm = abs(shaft.was.torque_nm) if shaft.was is not None and shaft.was.propels else 0.0
        most_nm = max(most_nm, was_nm - shaft.lim.torque_slew_nm_per_s * min(tick.dt_s, _LONGEST_RAMP_S))
        self.note(
            tick,
            most_nm - ahead_nm + 1e-6,
            lambda: (
                f"{shaft.name}: {shaft.torque_nm:.1f} N m, {most_nm:.1f} N m left "
                f"by a limit of {limit_pct:.1f} %: {self.entry.bad if mine.bad else 'coming back'}"
            ),
        )

    def _charge(self, tick: BoatTick, shaft: ShaftTick, mine: Held) -> None:
        if not mine.bad:
            self._left_a[shaft.number] = None
            return
        effect, was = self.entry.effect, shaft.was
        begins = was is not None and shaft.mode in _SOURCES and was.mode not in _SOURCES
        if effect == "inhibit_charge":
            self._yes_or_no(tick, not begins, f"{shaft.name}: {shaft.mode.name} while {self.entry.bad}")
            return
        self._yes_or_no(tick, shaft.mode not in _SOURCES, f"{shaft.name}: {shaft.mode.name} while {self.entry.bad}")
        if effect in ("stop_charge", "stop_both"):
            self.note_zero(tick, shaft, self.entry.bad, shaft.torque_nm if shaft.source else 0.0)
        elif shaft.source:
            self._falls(tick, shaft)

    def _falls(self, tick: BoatTick, shaft: ShaftTick) -> None:
        """Charging that is led to zero falls by its rate, from where it stood."""
        now_a, number = shaft.command.current_a, shaft.number
        left_a = self._left_a[number]
        if left_a is None:
            left_a = now_a + shaft.lim.charge_fall_a_per_s * tick.tick_s
        else:
            left_a -= _FALL_PART * shaft.lim.charge_fall_a_per_s * min(tick.dt_s, _LONGEST_RAMP_S)
        self._left_a[number] = left_a
        if now_a > _NO_CURRENT_A:
            words = f"{shaft.name}: {now_a:.1f} A aimed at while {self.entry.bad}"
            self.note(tick, left_a + _NO_CURRENT_A - now_a, lambda: words)

    # ---- the words

    def _bits(self, tick: BoatTick, shaft: ShaftTick, held: Sequence[Held]) -> None:
        """The bits of this effect: clear where this one is bad, and set where no interlock of the effect can be."""
        if shaft.word is None:
            return
        mine = held[self._channel]
        for bit in _BITS.get(self.entry.effect, ()):
            clear = not shaft.word & bit
            acts = self._shafts[shaft.number] and self.entry.effect != "inhibit_thrust"
            if mine.bad and acts and not clear:
                self._yes_or_no(tick, False, f"{shaft.name}: the shaft's word does not say that {self.entry.bad}")
            if clear and self._no_cause(bit, shaft.name, held):
                self._yes_or_no(
                    tick, False, f"{shaft.name}: {bit.name} is withheld, and no own interlock of this effect is bad yet"
                )

    def _no_cause(self, bit: ShaftCondition, shaft: str, held: Sequence[Held]) -> bool:
        """No interlock that holds this bit on this shaft can be bad."""
        return all(
            one.good
            for one, entry in zip(held, self._others, strict=True)
            if bit in _BITS.get(entry.effect, ()) and self._acts_on(entry, shaft)
        )

    def _yes_or_no(self, tick: BoatTick, holds: bool, words: str) -> None:
        self.note(tick, 0.0 if holds else -1.0, lambda: words)
