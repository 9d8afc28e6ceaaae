"""The shipped boats, where they are found, and the settings given on a command line."""

from pathlib import Path

import pytest

from supervisor.config import ConfigError, check_config, load_config, shipped_boats, shipped_path, shipped_root
from supervisor.config import load as load_module
from supervisor.config.load import apply_settings, resolve_boat


def test_the_demo_boats_are_shipped() -> None:
    assert {"marsh_tern", "reed_warbler"} <= set(shipped_boats())


@pytest.mark.parametrize("name", shipped_boats())
def test_every_shipped_boat_loads_and_checks_without_error(name: str) -> None:
    config = load_config(name)
    assert config.boat.name == name
    assert [f for f in check_config(config) if f.level == "error"] == []


def test_marsh_tern_has_two_shafts_and_reed_warbler_one() -> None:
    assert [s.name for s in load_config("marsh_tern").shaft] == ["port", "starboard"]
    assert len(load_config("reed_warbler").shaft) == 1


def test_a_path_and_a_bare_name_lead_to_the_same_boat() -> None:
    path = shipped_root() / "marsh_tern.toml"
    assert load_config(path) == load_config("marsh_tern")
    assert resolve_boat("marsh_tern") == path


def test_a_file_in_the_working_folder_goes_before_a_shipped_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "marsh_tern").write_text("")
    monkeypatch.chdir(tmp_path)
    assert resolve_boat("marsh_tern") == Path("marsh_tern")


def test_a_shipped_file_that_is_not_there_is_told() -> None:
    assert shipped_path("dbc/guarded.dbc").is_file()
    with pytest.raises(ConfigError, match="no such file is shipped"):
        shipped_path("dbc/none.dbc")


def test_inside_a_wheel_the_shipped_folder_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "supervisor"
    (package / "config").mkdir(parents=True)
    monkeypatch.setattr(load_module, "__file__", str(package / "config" / "load.py"))
    assert load_module.shipped_root() == tmp_path / "configs"
    (package / "shipped").mkdir()
    assert load_module.shipped_root() == package / "shipped"


# ---- settings


def test_settings_replace_keys_and_leave_the_file_alone() -> None:
    data = {"limits": {"taper_start_pct": 88.0}, "shaft": [{"name": "port", "drive": {"x": 1}}]}
    changed = apply_settings(data, {"limits.taper_start_pct": 85.0, "shaft.port.drive.x": 2, "shaft.0.drive.y": 3})
    assert changed == {"limits": {"taper_start_pct": 85.0}, "shaft": [{"name": "port", "drive": {"x": 2, "y": 3}}]}
    assert data == {"limits": {"taper_start_pct": 88.0}, "shaft": [{"name": "port", "drive": {"x": 1}}]}


def test_a_setting_is_validated_like_the_file() -> None:
    assert load_config("marsh_tern", {"limits.taper_start_pct": 85.0}).limits.taper_start_pct == 85.0
    with pytest.raises(ConfigError, match="taper_start_pct"):
        load_config("marsh_tern", {"limits.taper_start_pct": 95.0})
    with pytest.raises(ConfigError, match="unknown key"):
        load_config("marsh_tern", {"limits.taper_strat_pct": 85.0})


@pytest.mark.parametrize("key", ["limts.taper_start_pct", "shaft.middle.drive.x", "shaft.port", "boat.name.first"])
def test_a_setting_that_leads_nowhere_is_told(key: str) -> None:
    with pytest.raises(ConfigError) as caught:
        load_config("marsh_tern", {key: 1.0})
    assert key in str(caught.value)
    assert caught.value.remedy


def test_a_complaint_without_key_or_remedy_still_reads() -> None:
    assert str(ConfigError("a.toml", "", "is odd", "")) == "a.toml: is odd."
    assert str(ConfigError("a.toml", "k", "is odd", "Mend it")) == "a.toml: k: is odd. Mend it"
