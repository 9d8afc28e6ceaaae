"""A shaft that is as another one: written out it is the same boat, and nothing is renumbered by guess."""

import copy
from pathlib import Path
from typing import Any

import pytest

from supervisor.config import ConfigError, load_config, parse_config
from supervisor.config.like import expand_shafts
from supervisor.config.load import read_boat, read_toml, resolve_boat

BOAT = resolve_boat("marsh_tern")


def raw() -> dict[str, Any]:
    return copy.deepcopy(read_toml(BOAT))


def test_the_second_shaft_has_its_own_messages() -> None:
    port, starboard = load_config("marsh_tern").shaft
    assert (port.name, starboard.name) == ("port", "starboard")
    assert port.inputs["lever.lever_pct"].message == "LEVER_1"
    assert starboard.inputs["lever.lever_pct"].message == "LEVER_2"
    assert (port.inputs["handset.thrust_pct"].signal, starboard.inputs["handset.thrust_pct"].signal) == (
        "Thrust1", "Thrust2",
    )  # fmt: skip
    assert port.inputs["engine.engine_speed_rpm"].where == {"Instance": 0}
    assert starboard.inputs["engine.engine_speed_rpm"].where == {"Instance": 1}
    assert starboard.outputs["lock.engage"].signal == "LockEngage2"
    assert starboard.drive == port.drive


def test_no_two_shafts_hear_or_send_the_same(tmp_path: Path) -> None:
    """Four shafts, three of them like the first: each input and output of its own."""
    data = raw()
    data["shaft"] += [{"name": "third", "like": "port"}, {"name": "fourth", "like": "third"}]
    shafts = expand_shafts(data, "boat.toml")["shaft"]
    for kind in ("inputs", "outputs"):
        for key in shafts[0][kind]:
            places = {(s[kind][key]["message"], s[kind][key]["signal"], str(s[kind][key].get("where"))) for s in shafts}
            assert len(places) == 4, key


def test_what_it_says_itself_takes_the_place_of_what_it_is_like() -> None:
    data = raw()
    data["shaft"][1]["drive"] = {"rated_torque_nm": 90.0}
    data["shaft"][1]["inputs"] = {
        "lever.lever_pct": {"bus": "private", "message": "LEVER_3", "signal": "Position", "stale_s": 0.2}
    }
    port, starboard = parse_config(data, "boat.toml").shaft
    assert (port.drive.rated_torque_nm, starboard.drive.rated_torque_nm) == (110.0, 90.0)
    assert starboard.drive.max_speed_rpm == port.drive.max_speed_rpm
    assert starboard.inputs["lever.lever_pct"].message == "LEVER_3"
    assert starboard.inputs["lever.lever_pct"].stale_s == 0.2
    assert starboard.inputs["lever.neutral"].message == "LEVER_2"


def test_a_message_whose_name_ends_in_a_number_by_chance_is_left_alone() -> None:
    data = raw()
    data["shaft"][0]["inputs"]["drive.motor_c"]["message"] = "DRIVE_B_1"
    assert parse_config(data, "boat.toml").shaft[1].inputs["drive.motor_c"].message == "DRIVE_B_1"


@pytest.mark.parametrize(
    ("like", "says"),
    [
        ("middle", "'middle' is no shaft above this one. Allowed: port"),
        ("starboard", "'starboard' is no shaft above this one. Allowed: port"),
        (1, "1 is no shaft above this one. Allowed: port"),
    ],
)
def test_like_nothing_is_refused(like: object, says: str) -> None:
    data = raw()
    data["shaft"][1]["like"] = like
    with pytest.raises(ConfigError, match=r"shaft\.starboard\.like") as refused:
        parse_config(data, "boat.toml")
    assert says in str(refused.value)


def test_the_first_is_like_none() -> None:
    data = raw()
    data["shaft"][0]["like"] = "starboard"
    with pytest.raises(ConfigError, match=r"Allowed: none, for this is the first"):
        parse_config(data, "boat.toml")


def test_what_is_no_shaft_is_left_to_the_schema() -> None:
    for wrong in ({"shaft": "port"}, {"shaft": ["port"]}, {"shaft": [{"name": 3}]}):
        assert expand_shafts(wrong, "boat.toml") == wrong


def test_settings_reach_a_shaft_that_is_like_another() -> None:
    config = load_config("marsh_tern", {"shaft.starboard.drive.rated_torque_nm": 80.0})
    assert [shaft.drive.rated_torque_nm for shaft in config.shaft] == [110.0, 80.0]
    assert "like" not in read_boat(BOAT)["shaft"][1]
