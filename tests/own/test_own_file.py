"""`[[interlock]]` in the boat file: what is read, what is frozen from it, and a sentence for each mistake."""

import typing
from pathlib import Path
from typing import Any

import pytest
from own_boat import BILGE, LADDER, SEAL, boat_data, write_boat

from supervisor.bus import compile_boat
from supervisor.config import ConfigError, boat_limits, load_config, parse_config
from supervisor.config.limits import OwnLimits
from supervisor.config.schema import EffectName
from supervisor.signals import OwnEffect

FILE = "some_boat.toml"


def without(entry: dict[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in entry.items() if key not in keys}


def complaint(*entries: dict[str, Any]) -> ConfigError:
    with pytest.raises(ConfigError) as caught:
        parse_config(boat_data(*entries), FILE)
    assert str(caught.value).startswith(f"{FILE}: interlock")
    return caught.value


def test_the_names_of_effects_are_those_of_the_rules() -> None:
    assert [name.upper() for name in typing.get_args(EffectName)] == [effect.name for effect in OwnEffect]


class TestFrozen:
    def own(self, *entries: dict[str, Any]) -> tuple[OwnLimits, ...]:
        limits = boat_limits(parse_config(boat_data(*entries), FILE))
        assert len(limits.own) == 16
        assert limits.own_count == len(entries)
        return limits.own

    def test_a_boat_without_them(self) -> None:
        own = self.own()
        assert all(one == OwnLimits() and one.shafts == 0 for one in own)

    def test_a_contact(self) -> None:
        own = self.own(LADDER, BILGE | {"good_when": "off", "shafts": ["starboard"], "debounce_s": 1.5})
        assert own[0] == OwnLimits(
            number=0, bad_on=0, high=0, bad_at=0.0, good_at=0.0, debounce_s=0.2, unknown_good=0, effect=2, shafts=3,
            limit_pct=100.0, astern=0,
        )  # fmt: skip
        assert (own[1].bad_on, own[1].shafts, own[1].debounce_s, own[1].effect) == (1, 2, 1.5, 6)

    def test_a_number(self) -> None:
        low = without(SEAL, "bad_above") | {"name": "low", "bad_below": 5.0, "hysteresis": 2.0, "astern": True}
        own = self.own(SEAL, low)
        assert own[0][:5] == (1, 0, 1, 80.0, 70.0)
        assert (own[0].limit_pct, own[0].astern, own[0].effect) == (40.0, 0, 4)
        assert own[1][:5] == (1, 0, 0, 5.0, 7.0)
        assert own[1].astern == 1

    def test_unknown_taken_for_good(self) -> None:
        own = self.own(LADDER | {"effect": "warn", "unknown": "good"})
        assert (own[0].unknown_good, own[0].effect) == (1, 0)

    def test_every_number_is_a_float_and_every_flag_an_int(self) -> None:
        for one in self.own(LADDER, SEAL | {"bad_above": 80, "debounce_s": 1, "limit_pct": 40, "hysteresis": 10}):
            for name, kind in OwnLimits.__annotations__.items():
                assert type(getattr(one, name)) is kind


MISTAKES: list[tuple[dict[str, Any], str, str, str]] = [
    # interlock, key, part of the problem, part of the remedy
    (SEAL | {"bad_below": 5.0}, "bad_below", "both thresholds are given", "make two interlocks"),
    (without(SEAL, "bad_above", "hysteresis"), "good_when", "nothing says when it is bad", 'good_when = "on"'),
    (LADDER | {"bad_above": 1.0}, "bad_above", "a contact has no threshold", "Remove good_when for a number"),
    (LADDER | {"hysteresis": 1.0}, "hysteresis", "a contact has none", "debounce_s is for contacts"),
    (without(SEAL, "hysteresis"), "hysteresis", "is missing", "in the unit of the signal"),
    (SEAL | {"hysteresis": -1.0}, "hysteresis", "-1 is not above 0", "good again that much below bad_above"),
    (SEAL | {"hysteresis": 0.0}, "hysteresis", "0 is not above 0", "positive"),
    (SEAL | {"bad_above": 1e8, "hysteresis": 1e-9}, "hysteresis", "is lost beside bad_above", "larger"),
    (SEAL | {"bad_above": 2e9}, "bad_above", "2e+09 is no value of any signal", "in the unit of the signal"),
    (LADDER | {"shafts": ["prot"]}, "shafts", "'prot' is no shaft", "Did you mean port?"),
    (LADDER | {"shafts": []}, "shafts", "names no shaft", "leave it out for all"),
    (LADDER | {"shafts": ["port", "port"]}, "shafts", "twice", "once"),
    (LADDER | {"effect": "trip_boat", "shafts": ["port"]}, "shafts", "concerns the whole boat", "Remove shafts"),
    (LADDER | {"effect": "warn", "shafts": ["port"]}, "shafts", "concerns the whole boat", "Remove shafts"),
    (LADDER | {"limit_pct": 40.0}, "limit_pct", 'belongs to effect = "limit_thrust"', "correct effect"),
    (LADDER | {"astern": True}, "astern", 'belongs to effect = "limit_thrust"', "correct effect"),
    (without(SEAL, "limit_pct"), "limit_pct", "is missing", "1 to 99"),
    (LADDER | {"unknown": "good"}, "unknown", "a broken wire", 'effect = "warn"'),
    (LADDER | {"effect": "stop_trust"}, "effect", "'stop_trust' is not allowed", "Did you mean stop_thrust? Allowed: "),
    (LADDER | {"good_when": "up"}, "good_when", "'up' is not allowed", "'on' or 'off'"),
    (LADDER | {"bus": "privat"}, "bus", "'privat' is no bus", "private, backbone"),
    (LADDER | {"bad": "Swim ladder is up "}, "bad", "says the same as good", "swim ladder is down"),
    (LADDER | {"bad": " "}, "bad", "cannot be shown", "one line of words"),
    (LADDER | {"low": 0.0}, "low", "is for numbers only", "Remove it"),
    (SEAL | {"invert": True}, "invert", "is for contacts only", "factor = -1"),
    (LADDER | {"debounce_s": -0.1}, "debounce_s", "-0.1 is not allowed", "0 to 60"),
    (LADDER | {"debouce_s": 0.1}, "debouce_s", "unknown key", "debounce_s?"),
    (without(LADDER, "stale_s"), "stale_s", "is missing", "Add stale_s under [[interlock]]"),
    (SEAL | {"limit_pct": 0.0}, "limit_pct", "0.0 is not allowed", "1 to 99"),
]  # fmt: skip


@pytest.mark.parametrize(("entry", "key", "problem", "remedy"), MISTAKES, ids=[f"{m[1]}-{m[2]}" for m in MISTAKES])
def test_a_mistake_is_named_with_its_remedy(entry: dict[str, Any], key: str, problem: str, remedy: str) -> None:
    error = complaint(BILGE, entry)  # the second one: it is called by its name, not by its number
    assert error.key == f"interlock.{entry['name']}.{key}"
    assert problem in error.problem
    assert remedy in error.remedy


def test_a_name_is_used_once() -> None:
    error = complaint(LADDER, BILGE | {"name": "swim_ladder"})
    assert (error.key, error.problem) == ("interlock.1.name", "'swim_ladder' is used twice")


def test_a_bad_name_is_called_by_its_number() -> None:
    assert complaint(LADDER | {"name": "Swim Ladder"}).key == "interlock.0.name"


def test_at_most_sixteen() -> None:
    parse_config(boat_data(*(LADDER | {"name": f"ladder_{i}"} for i in range(16))), FILE)
    error = complaint(*(LADDER | {"name": f"ladder_{i}"} for i in range(17)))
    assert "17 entries" in error.problem
    assert error.remedy == "At most 16"


FILE_MISTAKES: list[tuple[dict[str, Any], str, str, str]] = [
    (LADDER | {"message": "DEKC"}, "message", "no message 'DEKC' on bus private", "Did you mean DECK"),
    (LADDER | {"signal": "Lader"}, "signal", "DECK has no signal 'Lader'", "Did you mean Ladder"),
    (LADDER | {"signal": "Crc"}, "signal", "Crc belongs to the guard", "another signal"),
    (LADDER | {"signal": "SealTemp"}, "signal", "good_when makes interlock swim_ladder a contact", "bad_above"),
    (SEAL | {"signal": "Ladder"}, "signal", "the threshold of interlock shaft_seal needs a number", "good_when"),
    (LADDER | {"source": 4}, "source", "11-bit identifiers carry no source address", "Remove it"),
    (LADDER | {"stale_s": 0.04}, "stale_s", "no longer than the period of DECK, 0.04 s", "3 to 5 periods"),
    (SEAL | {"low": 90.0, "high": 80.0}, "low", "no value is between 90 and 80", "Correct low or high"),
    (SEAL | {"factor": 0.0}, "factor", "would hide", "another factor"),
    (LADDER | {"values": {"9": 1.0}}, "values", "9 does not fit 2 bits", "Correct the code"),
    (LADDER | {"where": {"Place": 1}}, "where.signal", "DECK has no signal 'Place'", ""),
]


@pytest.mark.parametrize(("entry", "key", "problem", "remedy"), FILE_MISTAKES, ids=[m[2] for m in FILE_MISTAKES])
def test_a_mistake_against_the_dbc_file(
    tmp_path: Path, entry: dict[str, Any], key: str, problem: str, remedy: str
) -> None:
    file = write_boat(tmp_path, entry)
    with pytest.raises(ConfigError) as caught:
        compile_boat(load_config(file), file)
    assert caught.value.key == f"interlock.{entry['name']}.{key}"
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


def test_a_message_that_the_supervisor_sends_is_nobody_elses(tmp_path: Path) -> None:
    file = write_boat(tmp_path, LADDER | {"message": "STATUS", "signal": "HandsetInControl", "stale_s": 1.0})
    with pytest.raises(ConfigError, match=r"sends STATUS, which interlock\.swim_ladder listens to"):
        compile_boat(load_config(file), file)
