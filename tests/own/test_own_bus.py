"""From frames to `BoatInputs.own`: each interlock its channel, fresh or unknown; and the frame rule where nothing
vouches for a single frame."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_boat import BILGE, LADDER, SEAL, write_boat

from supervisor.bus import InputTable, compile_boat
from supervisor.bus.e2e import next_counter, protect
from supervisor.bus.register import OWN
from supervisor.config import load_config
from supervisor.signals import OwnEffect, OwnInputs

PLAIN_LADDER = LADDER | {"message": "PLAIN", "stale_s": 0.4}
PLAIN_SEAL = SEAL | {"message": "PLAIN", "stale_s": 0.4, "effect": "stop_thrust"}
del PLAIN_SEAL["limit_pct"]
PGN_SEAL = PLAIN_SEAL | {"message": "SEAL", "signal": "Temp"}
MAX_CODE, DOWN, UP, ERROR, GONE = 65535, 0, 1, 2, 3


class Box:
    """Sends the deck's messages and reads what the supervisor has of them."""

    def __init__(self, folder: Path, *entries: dict[str, Any]) -> None:
        file = write_boat(folder, *entries)
        self.map = compile_boat(load_config(file), file)
        self.table = InputTable(self.map)
        self.counter = 14

    def deck(self, time_s: float, codes: dict[str, int], *, wrong: bool = False) -> None:
        codec = self.map.messages["private"]["DECK"]
        word = 0
        for name, code in codes.items():
            word |= code << codec.signals[name].shift
        data = bytearray(word.to_bytes(codec.length, "little"))
        self.counter = next_counter(self.counter)
        protect(data, codec.data_id or 0, self.counter)
        if wrong:
            data[-1] ^= 0x40
        self.table.feed("private", codec.arbitration_id, False, data, time_s)

    def plain(self, time_s: float, ladder: int = UP, seal: int = 0) -> None:
        codec = self.map.messages["private"]["PLAIN"]
        word = ladder | seal << 16
        self.table.feed("private", codec.arbitration_id, False, word.to_bytes(4, "little"), time_s)

    def pgn(self, time_s: float, celsius: float, source: int = 9) -> None:
        codec = self.map.messages["private"]["SEAL"]
        raw = round((celsius + 273.0) / 0.03125)
        data = bytes([1]) + raw.to_bytes(2, "little") + b"\xff" * 5
        self.table.feed("private", codec.arbitration_id & ~0xFF | source, True, data, time_s)

    def own(self, now_s: float) -> OwnInputs:
        return self.table.snapshot(now_s)[0].own

    def contact(self, now_s: float) -> int | None:
        own = self.own(now_s)
        return own.on & 1 if own.known & 1 else None

    def value(self, now_s: float) -> float | None:
        own = self.own(now_s)
        assert own.known & 1 or own.values[0] == 0.0
        return own.values[0] if own.known & 1 else None


def raw(celsius: float) -> int:
    """SealTemp's code: 0.1 degC a step from -40 degC."""
    return round((celsius + 40.0) / 0.1)


class TestChannels:
    def test_each_interlock_has_its_channel(self, tmp_path: Path) -> None:
        box = Box(tmp_path, SEAL, BILGE, LADDER)
        assert box.own(0.0) == OwnInputs()
        for time_s in (0.00, 0.04):  # the first guarded frame only opens its counter
            box.deck(time_s, {"Ladder": UP, "Bilge": DOWN, "SealTemp": raw(55.0)})
        own = box.own(0.04)
        assert (own.known, own.on) == (0b111, 0b100)
        assert own.values == (pytest.approx(55.0), *(0.0,) * 15)

    def test_a_boat_without_any_has_none(self, tmp_path: Path) -> None:
        assert Box(tmp_path).own(1.0) == OwnInputs(0, 0, (0.0,) * 16)

    @pytest.mark.parametrize(("age_s", "known"), [(0.0, True), (0.16, True), (0.161, False), (-0.01, False)])
    def test_fresh_until_stale(self, tmp_path: Path, age_s: float, known: bool) -> None:
        box = Box(tmp_path, SEAL, LADDER)
        box.deck(1.00, {"Ladder": UP, "SealTemp": raw(55.0)})
        box.deck(1.04, {"Ladder": UP, "SealTemp": raw(55.0)})
        own = box.own(1.04 + age_s)
        assert (own.known, own.on) == ((0b11, 0b10) if known else (0, 0))
        assert own.values[0] == (pytest.approx(55.0) if known else 0.0)

    @pytest.mark.parametrize("code", [ERROR, GONE])
    def test_not_available_is_unknown_at_once(self, tmp_path: Path, code: int) -> None:
        box = Box(tmp_path, LADDER)
        for time_s in (0.00, 0.04):
            box.deck(time_s, {"Ladder": UP})
        box.deck(0.08, {"Ladder": code})
        assert box.contact(0.08) is None
        assert "sender says not available" in box.table.why_unknown(OWN, 1, 0.08)

    def test_a_wild_number_is_not_used_and_then_stale(self, tmp_path: Path) -> None:
        box = Box(tmp_path, SEAL | {"high": 150.0})
        for step in range(3):
            box.deck(step * 0.04, {"SealTemp": raw(55.0)})
        for step in range(3, 10):
            box.deck(step * 0.04, {"SealTemp": raw(160.0)})
            assert (box.value(step * 0.04) is None) == (step * 0.04 - 0.08 > 0.161)

    def test_a_corrupt_frame_moves_nothing(self, tmp_path: Path) -> None:
        box = Box(tmp_path, LADDER)
        for time_s in (0.00, 0.04):
            box.deck(time_s, {"Ladder": UP})
        box.deck(0.08, {"Ladder": DOWN}, wrong=True)
        assert box.contact(0.08) == 1

    def test_a_guarded_frame_acts_alone(self, tmp_path: Path) -> None:
        box = Box(tmp_path, LADDER)
        for time_s in (0.00, 0.04):
            box.deck(time_s, {"Ladder": UP})
        box.deck(0.08, {"Ladder": DOWN})
        assert box.contact(0.08) == 0

    def test_mapping_as_for_any_input(self, tmp_path: Path) -> None:
        """factor and offset on a number, invert on a contact, values on a coded one."""
        fahrenheit = SEAL | {"factor": 1.8, "offset": 32.0, "bad_above": 176.0, "hysteresis": 18.0}
        coded = LADDER | {"name": "coded", "values": {"0": 1.0, "1": 0.0}}
        box = Box(tmp_path, fahrenheit, LADDER | {"invert": True}, coded)
        for time_s in (0.00, 0.04):
            box.deck(time_s, {"Ladder": UP, "SealTemp": raw(100.0)})
        own = box.own(0.04)
        assert own.values[0] == pytest.approx(212.0)
        assert (own.known, own.on) == (0b111, 0)

    def test_ages_and_reasons_carry_its_name(self, tmp_path: Path) -> None:
        box = Box(tmp_path, LADDER)
        assert box.table.ages(1.0)["interlock.swim_ladder"] is None
        assert box.table.why_unknown(OWN, 1, 1.0) == "no frame yet: DECK 0x0a0 on bus private"
        box.deck(1.0, {"Ladder": UP})
        box.deck(1.04, {"Ladder": UP})
        assert box.table.ages(1.14)["interlock.swim_ladder"] == pytest.approx(0.1)
        assert box.table.why_unknown(OWN, 1, 1.14) == ""
        assert box.table.why_unknown(OWN, 1, 2.0).startswith(
            "no good frame for 0.96 s, 0.16 s allowed: DECK 0x0a0 on bus private"
        )

    def test_a_bus_with_nothing_but_own_interlocks_is_not_essential(self, tmp_path: Path) -> None:
        assert Box(tmp_path, LADDER | {"bus": "private"}).map.essential == frozenset({"private"})


def test_a_threshold_falls_on_the_count_that_the_file_says(tmp_path: Path) -> None:
    """0.1 x 483 - 40 is 8.300000000000004 in a computer: at 8.3 the count of 8.3 is bad and the one below is not, and
    the count of the hysteresis is good and the one above is not."""
    for code in range(401, 2400, 23):
        bad_at = float(f"{(code - 400) / 10:.1f}")
        box = Box(tmp_path, SEAL | {"bad_above": bad_at, "hysteresis": 1.3})
        sides = next(row.own for row in box.map.inputs if row.level == OWN)
        assert sides is not None
        seen = {}
        for number, one in enumerate((code - 1, code, code - 13, code - 12)):
            for time_s in (number * 0.1, number * 0.1 + 0.04):
                box.deck(time_s, {"SealTemp": one})
            seen[one] = box.own(number * 0.1 + 0.04).values[0]
        assert sides.bad(seen[code]), bad_at
        assert not sides.bad(seen[code - 1]), bad_at
        assert sides.good(seen[code - 13]), bad_at
        assert not sides.good(seen[code - 12]), bad_at


ENDING = ("STOP_THRUST", "RAMP_THRUST", "STOP_CHARGE", "STOP_BOTH", "TRIP_SHAFT", "TRIP_BOAT")
"""Typed by hand: what ends thrust or charging that runs, at once or by a ramp."""


@pytest.mark.parametrize("effect", list(OwnEffect))
def test_which_effects_ask_for_the_frame_rule(tmp_path: Path, effect: OwnEffect) -> None:
    more = {"limit_pct": 50.0} if effect is OwnEffect.LIMIT_THRUST else {}
    guarded = Box(tmp_path / "guarded", LADDER | {"effect": effect.name.lower()} | more)
    plain = Box(tmp_path / "plain", PLAIN_LADDER | {"effect": effect.name.lower()} | more)
    for box, frames in ((guarded, 1), (plain, 3 if effect.name in ENDING else 1)):
        assert [row.own and row.own.frames for row in box.map.inputs if row.level == OWN] == [frames]
    plain.plain(0.0, UP)
    assert (plain.contact(0.0) is None) == (effect.name in ENDING)


class TestContactUnderTheRule:
    def box(self, folder: Path, said: list[int]) -> Callable[[], int | None]:
        box = Box(folder, PLAIN_LADDER)
        for step, code in enumerate(said):
            box.plain(step * 0.1, code)
        return lambda: box.contact((len(said) - 1) * 0.1)

    @pytest.mark.parametrize(
        ("said", "seen"),
        [
            ([UP, UP], None),
            ([UP, UP, UP], 1),
            ([UP, UP, UP, DOWN], 1),
            ([UP, UP, UP, DOWN, DOWN], 1),
            ([UP, UP, UP, DOWN, DOWN, DOWN], 0),
            ([UP, UP, UP, DOWN, DOWN, UP, DOWN, DOWN], 1),
            ([UP, UP, UP, DOWN, DOWN, DOWN, UP, UP], 0),
            ([UP, UP, UP, DOWN, DOWN, DOWN, UP, UP, UP], 1),
            ([DOWN, UP, DOWN, UP, DOWN, UP], None),
            ([UP, UP, UP, GONE, GONE], 1),
            ([UP, UP, UP, GONE, GONE, GONE], None),
            ([UP, UP, UP, GONE, DOWN, GONE, DOWN], 1),
            ([UP, UP, UP, GONE, GONE, GONE, UP], None),
            ([UP, UP, UP, GONE, GONE, GONE, UP, UP, UP], 1),
        ],
    )
    def test_three_running_act(self, tmp_path: Path, said: list[int], seen: int | None) -> None:
        assert self.box(tmp_path, said)() == seen

    def test_a_blip_now_and_then_costs_nothing(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PLAIN_LADDER)
        for step in range(60):
            box.plain(step * 0.1, DOWN if step % 3 == 2 and step > 3 else UP)
            assert (box.contact(step * 0.1) == 1) == (step >= 2)

    def test_a_sender_that_contradicts_itself_grows_stale(self, tmp_path: Path) -> None:
        """Two boxes under one identifier: neither is believed, and unknown, in the end, is bad."""
        box = Box(tmp_path, PLAIN_LADDER)
        for step in range(3):
            box.plain(step * 0.1, UP)
        for step in range(3, 12):
            box.plain(step * 0.1, DOWN if step % 2 else GONE)
            assert (box.contact(step * 0.1) is None) == (step * 0.1 - 0.2 > 0.401)

    def test_after_silence_three_are_asked_again(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PLAIN_LADDER)
        for step in range(5):
            box.plain(step * 0.1, UP)
        assert box.contact(0.9) is None
        for time_s, seen in ((1.0, None), (1.1, None), (1.2, 1)):
            box.plain(time_s, UP)
            assert box.contact(time_s) == seen

    def test_frames_further_apart_than_stale_never_agree(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PLAIN_LADDER)
        for step in range(10):
            box.plain(step * 0.5, UP)
            assert box.contact(step * 0.5) is None

    def test_it_comes_back_though_it_went_stale_in_between(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PLAIN_LADDER)
        for step in range(3):
            box.plain(step * 0.1, UP)
        for step in range(3, 10):
            box.plain(step * 0.1, DOWN if step % 2 else UP)  # UP agrees with what stands
        assert box.contact(0.9) == 1
        for step in range(10, 20):
            box.plain(step * 0.1, DOWN if step % 2 else GONE)
        assert box.contact(1.9) is None
        for step in range(20, 23):
            box.plain(step * 0.1, DOWN)
        assert box.contact(2.2) == 0


class TestNumberUnderTheRule:
    """Bad from 80 degC upwards, good again at 70 degC or below; 75 degC is neither."""

    @pytest.mark.parametrize(
        ("said", "seen"),
        [
            ([60.0, 60.0], None),
            ([60.0, 61.0, 62.0], 62.0),
            ([60.0, 60.0, 60.0, 81.0, 82.0], 60.0),
            ([60.0, 60.0, 60.0, 81.0, 82.0, 83.0], 83.0),
            ([60.0, 60.0, 60.0, 80.0, 80.0, 80.0], 80.0),
            ([60.0, 60.0, 60.0, 79.9, 79.9, 79.9], 79.9),
            ([60.0, 60.0, 60.0, 75.0], 75.0),  # neither side: it can change nothing
            ([60.0, 60.0, 60.0, 81.0, 75.0, 81.0, 81.0], 75.0),
            ([60.0, 60.0, 60.0, 75.0, 75.0, 75.0, 75.0, 62.0], 62.0),
            ([85.0, 85.0, 85.0, 60.0, 60.0], 85.0),
            ([85.0, 85.0, 85.0, 60.0, 60.0, 60.0], 60.0),
            ([85.0, 85.0, 85.0, 75.0, 60.0], 75.0),
            ([85.0, 85.0, 85.0, 75.0, 86.0], 86.0),
            ([75.0, 75.0], None),
            ([75.0, 75.0, 75.0], 75.0),
            ([75.0, 75.0, 75.0, 60.0], 75.0),
        ],
    )
    def test_three_running_on_one_side_act(self, tmp_path: Path, said: list[float], seen: float | None) -> None:
        box = Box(tmp_path, PLAIN_SEAL)
        for step, celsius in enumerate(said):
            box.plain(step * 0.1, seal=raw(celsius))
        now_s = (len(said) - 1) * 0.1
        assert box.value(now_s) == (None if seen is None else pytest.approx(seen))

    def test_bad_below(self, tmp_path: Path) -> None:
        low = PLAIN_SEAL | {"bad_below": 5.0, "hysteresis": 2.0}
        del low["bad_above"]
        box = Box(tmp_path, low)
        for step, celsius in enumerate([20.0, 20.0, 20.0, 4.0, 4.0]):
            box.plain(step * 0.1, seal=raw(celsius))
        assert box.value(0.4) == pytest.approx(20.0)
        box.plain(0.5, seal=raw(5.0))
        assert box.value(0.5) == pytest.approx(5.0)

    def test_a_wild_value_breaks_the_row_and_is_never_used(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PLAIN_SEAL | {"high": 150.0})
        for step, celsius in enumerate([60.0, 60.0, 60.0, 81.0, 81.0, 190.0, 81.0, 81.0]):
            box.plain(step * 0.1, seal=raw(celsius))
            assert box.value(step * 0.1) in (None, pytest.approx(60.0))

    def test_not_available_three_times(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PLAIN_SEAL)
        for step, code in enumerate([raw(60.0)] * 3 + [MAX_CODE] * 3):
            box.plain(step * 0.1, seal=code)
            assert (box.value(step * 0.1) is None) == (step in (0, 1, 5))


class TestSources:
    """29-bit identifiers say who sends."""

    def test_three_of_one_source(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PGN_SEAL)
        for step in range(3):
            box.pgn(step * 0.1, 60.0, source=9)
        assert box.value(0.2) == pytest.approx(60.0)
        for step, source in enumerate([9, 17, 9, 17, 9, 17], start=3):
            box.pgn(step * 0.1, 90.0, source=source)
            assert box.value(step * 0.1) in (None, pytest.approx(60.0))

    def test_another_source_keeps_nothing_fresh(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PGN_SEAL)
        for step in range(3):
            box.pgn(step * 0.1, 60.0, source=9)
        box.pgn(0.3, 61.0, source=17)
        assert box.value(0.3) == pytest.approx(60.0)
        box.pgn(0.59, 61.0, source=17)
        assert box.value(0.59) == pytest.approx(60.0)
        assert box.value(0.61) is None

    def test_with_the_source_in_the_boat_file_others_are_refused(self, tmp_path: Path) -> None:
        box = Box(tmp_path, PGN_SEAL | {"source": 9})
        for step in range(3):
            box.pgn(step * 0.1, 60.0, source=9)
        for step in range(3, 6):
            box.pgn(step * 0.1, 90.0, source=17)
        assert box.value(0.5) == pytest.approx(60.0)
        for step in range(6, 9):
            box.pgn(step * 0.1, 90.0, source=9)
        assert box.value(0.8) == pytest.approx(90.0)


@settings(max_examples=60)
@given(st.lists(st.tuples(st.sampled_from([UP, DOWN, ERROR, GONE]), st.floats(0.02, 0.6)), max_size=30))
def test_the_rule_restated(tmp_path_factory: pytest.TempPathFactory, frames: list[tuple[int, float]]) -> None:
    """In other words: a change is believed exactly when the last three frames, none after a silence, said it; until
    then the last frame that agreed with what stood is what counts, while it is fresh."""
    box = Box(tmp_path_factory.mktemp("rule"), PLAIN_LADDER)
    history: list[tuple[float, int | None]] = []
    stands: int | None = None
    agreed_s = -1e9
    now_s = 0.0
    for code, gap_s in frames:
        now_s += gap_s
        said = code if code < 2 else None
        if history and now_s - history[-1][0] > 0.400001:
            history.clear()
        history.append((now_s, said))
        if stands is not None and now_s - agreed_s > 0.400001:
            stands = None
        last = [what for _, what in history[-3:]]
        if stands is not None and said == stands:
            agreed_s = now_s
        elif len(last) == 3 and len(set(last)) == 1:
            stands, agreed_s = said, now_s
        box.plain(now_s, code)
        assert box.contact(now_s) == stands
