"""What the crew does: buttons, levers, selectors, keys, switches, the handset; and the weather around the boat.

Plain mutable state, written by an operator (a procedure, a browser, a person at a terminal) and read by the nodes.
"""

from dataclasses import dataclass, field

PRESS_S = 0.3
"""A push-button is held for this long when it is pressed: several frames, as a finger would."""

BUTTONS = ("enable", "disable", "reset", "acknowledge")
SWITCHES = ("emergency_stop", "get_home", "full_charge", "shore_connected", "diver_lockout")


@dataclass
class ShaftPanel:
    """Controls of one shaft. `gear` is 1 ahead, 0 neutral, -1 astern; `charge` is "off", "under_way" or "at_rest".

    `start_key` and `stop_key` are held until the engine obeys or the time (s) in `key_until_s` is over; `clutch_close`
    and `lock_engage` are what the crew last ordered and what was permitted (1 or 0).
    """

    lever_pct: float = 0.0
    out_of_service: int = 0
    charge: str = "off"
    harvest: int = 0
    stop_and_lock: int = 0
    throttle_pct: float = 0.0
    gear: int = 0
    start_key: int = 0
    stop_key: int = 0
    start_bridge: int = 0
    """The guarded switch across the supervisor's start permit."""
    key_until_s: float = 0.0
    clutch_close: int = 1
    lock_engage: int = 0
    handset_pct: float = 0.0
    load_shock_nm: float = 0.0


@dataclass
class Panel:
    """Controls of the whole boat, and its surroundings. Switches and buttons are 1 or 0.

    `own` are raw codes put by hand into signals of the own interlocks, by place (sim.nodes.own); `silent` messages that
    are held back, as "bus/message"."""

    shafts: list[ShaftPanel]
    handset_id: int = 0
    held: dict[str, int] = field(default_factory=lambda: dict.fromkeys(BUTTONS, 0))
    pressed_until_s: dict[str, float] = field(default_factory=lambda: dict.fromkeys(BUTTONS, -1.0))
    switches: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SWITCHES, 0))
    handset_held: int = 0
    handset_link: int = 1
    handset_minutes: float = 480.0
    isolator: int = 1
    hotel_load_w: float = 0.0
    sail_force_n: float = 0.0
    irradiance_w_m2: float = 0.0
    shore_charge_a: float = 0.0
    air_c: float = 20.0
    water_c: float = 15.0
    own: dict[str, int] = field(default_factory=dict)
    silent: set[str] = field(default_factory=set)

    def press(self, button: str, now_s: float) -> None:
        """Press a button and let go after PRESS_S."""
        self.pressed_until_s[button] = now_s + PRESS_S

    def hold(self, button: str, on: int) -> None:
        """Hold a button down, or let go of it."""
        self.held[button] = on
        self.pressed_until_s[button] = -1.0

    def release_due(self, now_s: float) -> None:
        """Let go of buttons and keys whose time is over."""
        for button, until_s in self.pressed_until_s.items():
            if 0.0 <= until_s <= now_s:
                self.pressed_until_s[button] = -1.0
        for shaft in self.shafts:
            if (shaft.start_key or shaft.stop_key) and now_s >= shaft.key_until_s:
                shaft.start_key = shaft.stop_key = 0

    def contact(self, button: str) -> int:
        """1 while a button is down."""
        return 1 if self.held[button] or self.pressed_until_s[button] >= 0.0 else 0
