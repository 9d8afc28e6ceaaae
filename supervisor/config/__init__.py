"""What a boat is: its file, validated, checked and frozen into the limits the rules work with."""

from supervisor.config.checks import check_config
from supervisor.config.errors import ConfigError
from supervisor.config.finding import Finding
from supervisor.config.limits import BoatLimits, OwnLimits, Reactions, ShaftLimits, boat_limits, shaft_limits
from supervisor.config.load import load_config, parse_config, shipped_boats, shipped_path, shipped_root
from supervisor.config.schema import BoatConfig

__all__ = [
    "BoatConfig",
    "BoatLimits",
    "ConfigError",
    "Finding",
    "OwnLimits",
    "Reactions",
    "ShaftLimits",
    "boat_limits",
    "check_config",
    "load_config",
    "parse_config",
    "shaft_limits",
    "shipped_boats",
    "shipped_path",
    "shipped_root",
]
