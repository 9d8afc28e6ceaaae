"""Hypothesis strategies: valid configurations, operator actions, conditions of the plant, faults.

All of them are made for one boat: what is not fitted there is never drawn. Values at the edges of the rules come first,
so that shrinking ends on plain numbers.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from hypothesis import strategies as st

from sim.faults import CATALOGUE
from sim.faults.base import Value
from sim.nodes import build_nodes, new_panel
from sim.rig.direct import DIRECT_FAULTS
from sim.rig.jumps import BOAT_JUMPS
from sim.rig.targets import OWN_WORDS, targets_for
from sim.testing.script import ScriptStep
from supervisor.bus import compile_boat
from supervisor.config import BoatConfig, check_config, load_config, parse_config
from supervisor.config.interlocks import is_number
from supervisor.config.limits import own_thresholds
from supervisor.config.load import apply_settings, read_boat, resolve_boat

Act = tuple[str, Value]
Conditions = tuple[tuple[str, float], ...]

_LEVER = (0.0, 60.0, 100.0, -60.0, 4.0, 6.0, 14.0, 16.0, 30.0, -30.0, -100.0)
_PERCENT = (0.0, 50.0, 100.0, 20.0)
_NUMBERS: Mapping[str, tuple[float, ...]] = {
    "hotel.load_w": (0.0, 1000.0, 3000.0, 10000.0, 20000.0),
    "sail.force_n": (0.0, 3000.0, 8000.0, -2000.0),
    "sun.irradiance_w_m2": (0.0, 800.0),
    "shore.charge_a": (0.0, 30.0, 100.0),
}
_NEEDS = {
    "charge": "shaft.charge_under_way",
    "charge_at_rest": "shaft.charge_at_rest",
    "harvest": "shaft.harvest",
    "stop_and_lock": "shaft.stop_and_lock",
    "out_of_service": "shaft.out_of_service",
    "clutch": "clutch.closed",
    "lock": "lock.engaged",
}
_DURATIONS = (0.02, 0.1, 0.3, 0.6, 1.0, 2.5)


def _not_fitted(config: BoatConfig, target: str) -> bool:
    first, _, rest = target.partition(".")
    for shaft in config.shaft:
        if first == shaft.name:
            return _NEEDS.get(rest, rest) in shaft.not_fitted
    if first == "handset":
        return "handset.held" in config.not_fitted
    return target in config.not_fitted


def _values(target: str, words: Sequence[str], contact: bool) -> tuple[Value, ...]:
    if words or contact:
        return (*words, *((True, False) if contact else ()))
    if target in _NUMBERS:
        return _NUMBERS[target]
    return _PERCENT if target.endswith("throttle_pct") else _LEVER


def _acts(config: BoatConfig, *, helm: bool) -> list[Act]:
    """All that can be done at the helm and around the boat, or with the shafts. One list, to draw from evenly."""
    names = tuple(shaft.name for shaft in config.shaft)
    found: list[Act] = own_acts(config) if helm else []
    for target, kind in targets_for(names).items():
        if (target.partition(".")[0] not in names) == helm and not _not_fitted(config, target):
            for value in _values(target, kind.words, kind.contact):
                if value != "at_rest" or not _not_fitted(config, f"{target.partition('.')[0]}.charge_at_rest"):
                    found.append((target, value))
    return found


def own_acts(config: BoatConfig) -> list[Act]:
    """What may be done to the own interlocks: good, bad, not known, and a number at both of its thresholds."""
    found: list[Act] = []
    for entry in config.interlock:
        target = f"interlock.{entry.name}"
        found += [(target, word) for word in OWN_WORDS]
        if is_number(entry):
            _, bad_at, good_at = own_thresholds(entry)
            found += [(target, bad_at), (target, good_at), (target, (bad_at + good_at) / 2.0)]
    return found


def own_actions(config: BoatConfig) -> st.SearchStrategy[Act]:
    """Something is done to an own interlock of the boat file. Raises ValueError for a boat without any."""
    if not config.interlock:
        raise ValueError("this boat has no [[interlock]]")
    return st.sampled_from(tuple(own_acts(config)))


def button_actions(config: BoatConfig) -> st.SearchStrategy[Act]:
    """A push-button at the helm is pressed, or one of the switches that stop everything is moved."""
    found: list[Act] = [("helm.enable", "press"), ("helm.reset", "press"), ("helm.disable", "press")]
    for name in ("helm.emergency_stop", "helm.diver_lockout", "handset.held"):
        if not _not_fitted(config, name):
            found += [(name, True), (name, False)]
    return st.sampled_from((found[0], *found))


def lever_actions(config: BoatConfig) -> st.SearchStrategy[Act]:
    """A lever is moved."""
    return st.tuples(st.sampled_from(tuple(f"{s.name}.lever_pct" for s in config.shaft)), st.sampled_from(_LEVER))


def helm_actions(config: BoatConfig) -> st.SearchStrategy[Act]:
    """Anything that a crew may do at the helm, with the handset or around the boat."""
    return st.sampled_from(tuple(_acts(config, helm=True)))


def shaft_actions(config: BoatConfig) -> st.SearchStrategy[Act]:
    """Anything that a crew may do with a shaft: lever, throttle, gear, clutch, lock, selectors, starter."""
    return st.sampled_from(tuple(_acts(config, helm=False)))


def operator_actions(config: BoatConfig) -> st.SearchStrategy[Act]:
    """One thing that a crew may do: (target, value), as `Bench.do` takes it."""
    kinds = [button_actions(config), lever_actions(config), helm_actions(config), shaft_actions(config)]
    return st.one_of(*kinds, *([own_actions(config)] if config.interlock else []))


def durations(longest_s: float = 2.5) -> st.SearchStrategy[float]:
    """Times to wait, s: a tick, around the dwells, and longer."""
    return st.sampled_from(tuple(one for one in _DURATIONS if one <= longest_s))


@st.composite
def crew_sequences(draw: st.DrawFn, config: BoatConfig, longest: int = 12) -> list[ScriptStep]:
    """A sequence of operator actions with times between, as steps that `Bench.play` does."""
    tick_s = config.boat.tick_s
    steps: list[ScriptStep] = []
    for _ in range(draw(st.integers(1, longest))):
        target, value = draw(operator_actions(config))
        steps.append(ScriptStep(do={target: value}, ticks=max(1, round(draw(durations()) / tick_s))))
    return steps


_SOC = st.sampled_from((70.0, 18.0, 20.0, 25.0, 87.0, 90.0, 92.0, 94.0, 99.0, 15.0)) | st.floats(5.0, 100.0).map(round)
_CONDITION: Mapping[str, st.SearchStrategy[float]] = {
    "bank.soc_pct": _SOC.map(float),
    "bank.temperature_c": st.sampled_from((20.0, 0.0, 1.0, 9.0, 42.0, 46.0, -5.0)),
    "boat.speed_kn": st.sampled_from((0.0, 3.0, 6.0, 9.0, -2.0)),
    "monitor.soc_pct": st.sampled_from((50.0, 20.0, 93.0)),
}
_SHAFT_CONDITION: Mapping[str, st.SearchStrategy[float]] = {
    "motor_c": st.sampled_from((40.0, 125.0, 141.0)),
    "inverter_c": st.sampled_from((40.0, 80.0, 86.0)),
    "coolant_c": st.sampled_from((25.0, 65.0, 71.0)),
}


def plant_jumps(config: BoatConfig) -> st.SearchStrategy[tuple[str, float]]:
    """One change of the boat's state: (target, value), as `Bench.set` takes it."""
    found = [st.tuples(st.just(target), values) for target, values in _CONDITION.items() if target in BOAT_JUMPS]
    for shaft in config.shaft:
        found += [st.tuples(st.just(f"{shaft.name}.{target}"), values) for target, values in _SHAFT_CONDITION.items()]
    return st.one_of(found)


def plant_conditions(config: BoatConfig) -> st.SearchStrategy[Conditions]:
    """The state of the boat at the start: SOC and temperature of the bank, as (target, value) pairs."""
    del config
    return st.tuples(
        st.tuples(st.just("bank.soc_pct"), _CONDITION["bank.soc_pct"]),
        st.tuples(st.just("bank.temperature_c"), _CONDITION["bank.temperature_c"]),
    )


class FaultDraw(NamedTuple):
    """A fault to inject, as `Bench.inject` takes it."""

    fault: str
    target: str
    params: dict[str, Value]


def _params(name: str) -> st.SearchStrategy[dict[str, Value]]:
    drawn: dict[str, st.SearchStrategy[Value]] = {}
    for key, param in CATALOGUE[name].params.items():
        if param.words:
            drawn[key] = st.sampled_from(param.words)
        else:
            near = (param.default, param.low, param.high)
            drawn[key] = st.sampled_from(tuple(dict.fromkeys(one for one in near if not isinstance(one, bool))))
    return st.fixed_dictionaries(drawn)


def bus_faults(
    config: BoatConfig, file: str | Path, *, buses: bool = True, only: Sequence[str] | None = None
) -> st.SearchStrategy[FaultDraw]:
    """A fault of the catalogue on something that this boat has. `buses` False leaves out what needs frames, `only`
    all but the faults named."""
    boat_map = compile_boat(config, resolve_boat(file))
    nodes = build_nodes(boat_map, new_panel(boat_map, config.boat.handset_id))
    inputs = sorted({field.key for node in nodes.all.values() for field in node.fields() if field.row is not None})
    places = {
        "node": tuple(name for name, node in nodes.all.items() if node.senders),
        "bus": tuple(config.buses),
        "input": tuple(inputs),
        "monitor": ("monitor",),
        "handset": ("handset",) if "handset" in nodes.all else (),
        "shaft": tuple(boat_map.shaft_names),
    }
    found = []
    for name, entry in CATALOGUE.items():
        if (only is None or name in only) and (buses or name in DIRECT_FAULTS):
            targets = places[entry.targets]
            if targets:
                found.append(st.builds(FaultDraw, st.just(name), st.sampled_from(targets), _params(name)))
    return st.one_of(found)


def _ordered(low: float, high: float, count: int, step: float) -> st.SearchStrategy[list[float]]:
    """`count` rising numbers, at least `step` apart, between `low` and `high`."""
    room = int((high - low) / step) - count + 1
    return st.lists(st.integers(0, room), min_size=count, max_size=count).map(
        lambda ints: [low + step * (number + place) for place, number in enumerate(sorted(ints))]
    )


@st.composite
def limit_settings(draw: st.DrawFn, config: BoatConfig) -> dict[str, float]:
    """Dotted keys and values for `limits` and the shafts, in their right order; not yet cross-checked."""
    found: dict[str, float] = {}

    def maybe(**groups: tuple[Sequence[str], st.SearchStrategy[list[float]]]) -> None:
        for names, values in groups.values():
            if draw(st.booleans()):
                found.update(dict(zip(names, draw(values), strict=True)))

    def one(low: float, high: float) -> st.SearchStrategy[list[float]]:
        return st.floats(low, high, allow_nan=False).map(lambda number: [round(number, 2)])

    maybe(
        derate=(
            ("limits.derate_end_pct", "limits.derate_return_pct", "limits.derate_start_pct"),
            _ordered(8, 45, 3, 1),
        ),
        taper=(("limits.taper_start_pct", "limits.charge_restart_pct", "limits.taper_end_pct"), _ordered(60, 99, 3, 1)),
        cells=(("limits.cell_taper_start_v", "limits.cell_taper_end_v"), _ordered(3.40, 3.60, 2, 0.01)),
        cold=(("limits.cold_zero_c", "limits.cold_full_c"), _ordered(-5, 15, 2, 1)),
        hot=(("limits.hot_start_c", "limits.hot_zero_c"), _ordered(30, 50, 2, 1)),
        full=(("limits.full_charge_a",), one(30, config.bank.max_charge_a)),
        end=(("limits.charge_end_a",), one(2, 15)),
        rise=(("limits.charge_rise_a_per_s",), one(1, 20)),
        fall=(("limits.charge_fall_a_per_s",), one(10, 100)),
        floor=(("limits.derate_floor_pct",), one(5, 50)),
        slower=(("limits.derate_rate_pct_per_s",), one(0.5, 20)),
        unknown=(("limits.unknown_soc_pct",), one(10, 80)),
        neutral=(("limits.neutral_s",), one(0.1, 1.5)),
        ramp=(("limits.lever_ramp_s",), one(0.5, 5)),
        handset=(("limits.handset_thrust_pct",), one(10, 100)),
        off=(("limits.disable_s",), one(1, 6)),
    )
    for shaft in config.shaft:
        key = f"shaft.{shaft.name}"
        maybe(
            slew=((f"{key}.drive.torque_slew_nm_per_s",), one(50, 1000)),
            dwell=((f"{key}.drive.reversal_dwell_s",), one(0, 2)),
            headroom=((f"{key}.engine.headroom",), one(0.4, 0.9)),
            band=((f"{key}.rules.neutral_band_pct",), one(2, 12)),
            least=((f"{key}.rules.generate_min_rpm",), one(60, 300)),
        )
    return found


def configurations(boat: str | Path = "marsh_tern") -> st.SearchStrategy[BoatConfig]:
    """Valid boats: the given one with limits varied within what `check_config` accepts without an error."""
    path = resolve_boat(boat)
    data = read_boat(path)
    plain = load_config(path)

    def made(settings: dict[str, Any]) -> BoatConfig:
        return parse_config(apply_settings(data, settings), str(path))

    def sound(config: BoatConfig) -> bool:
        return all(finding.level != "error" for finding in check_config(config))

    return limit_settings(plain).map(made).filter(sound)
