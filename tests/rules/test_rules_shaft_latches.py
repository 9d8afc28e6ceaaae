"""What a shaft remembers after the tables have spoken, called directly: REARMED above all."""

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatShaft, flat

from supervisor.rules import shaft_latches

BOAT = frozen(shafts=1)
LIM = BOAT.shafts[0]
REST = FlatShaft()
STANDBY, NEUTRAL_WAIT, READY, TRIPPED = 0, 1, 2, 3
REST_MODE, PROPEL, GENERATE, HARVEST, UNLOAD, ISOLATED = range(6)
REARMED, TO_PROPEL, LINK, FAILED, RETRIED, CHARGE_ARMED, HARVEST_ARMED, SLOW, SAGGING, SOURCE, SERVING, OUT, BEGUN = (
    1 << n for n in range(13)
)

PROPEL_WORD = (
    1 << 5 | 1 << 17 | 1 << 18 | 1 << 9 | 1 << 15 | 1 << 19 | 1 << 38 | 1 << 20 | 1 << 21 | 1 << 22 | 1 << 24 | 1 << 32
    | 1 << 34 | 1 << 41 | 1 << 42
)  # fmt: skip
"""All that PROPEL needs: ready, in service, link, thrust, rearmed, safe, no diver, lock released and settled, clutch,
engine clear, discharge permit, derate open, no own interlock that ramps or stops."""
THRUST, CONTROL_LOST, HANDSET_LOST, OFF = 1 << 9, 1 << 10, 1 << 11, 1 << 8
OWN_STAYS = 1 << 41


def after(
    state: FlatShaft = REST, word: int = 0, new: int = REST_MODE, disarms: bool = False, to_propel: bool = False,
    boat_mode: int = READY,
) -> FlatShaft:  # fmt: skip
    return flat(shaft_latches.after_mode)(LIM, state, word, new, disarms, to_propel, 0.5, boat_mode)


@pytest.mark.sr("SR-05")
class TestRearmed:
    @pytest.mark.parametrize(
        ("neutral_s", "armed"), [(-1.0, False), (0.0, False), (0.499, False), (0.5, True), (9.0, True)]
    )
    def test_neutral_held_sets_it(self, neutral_s: float, armed: bool) -> None:
        for others in (0, LINK | SERVING):
            state = REST._replace(neutral_s=neutral_s, latches=others)
            assert after(state).latches == others | (REARMED if armed else 0)
            assert after(state._replace(latches=others | REARMED)).latches == others | REARMED, "it stays"

    def test_what_clears_it(self) -> None:
        state = REST._replace(latches=REARMED | LINK, neutral_s=9.0)
        assert after(state).latches == REARMED | LINK
        assert after(state, disarms=True).latches == LINK
        for boat_mode in (STANDBY, NEUTRAL_WAIT, TRIPPED):
            assert after(state, boat_mode=boat_mode).latches == LINK
        for bit in (CONTROL_LOST, HANDSET_LOST, THRUST):
            for others in (0, PROPEL_WORD & ~THRUST):
                assert after(state, others | bit).latches == LINK, bin(bit)
        assert after(state, PROPEL_WORD & ~THRUST).latches == REARMED | LINK
        for bit in set(range(39)) - {9, 10, 11}:
            assert after(state, 1 << bit).latches == REARMED | LINK, bit

    @pytest.mark.sr("SR-49")
    def test_thrust_that_is_given_keeps_it(self) -> None:
        state = REST._replace(mode=PROPEL, latches=REARMED)
        assert after(state, PROPEL_WORD, PROPEL).latches == REARMED | BEGUN
        assert after(state, THRUST, PROPEL).latches == REARMED | BEGUN
        for new in (REST_MODE, GENERATE, HARVEST, UNLOAD, ISOLATED):
            assert after(state, PROPEL_WORD, new).latches & REARMED == 0

    def test_on_the_way_to_thrust_while_nothing_is_missing(self) -> None:
        state = REST._replace(mode=UNLOAD, latches=REARMED | TO_PROPEL)
        assert after(state, PROPEL_WORD, UNLOAD).latches == REARMED | TO_PROPEL
        assert after(state, PROPEL_WORD | 1 << 36 | 1 << 27, UNLOAD).latches == REARMED | TO_PROPEL
        for bit in range(47):
            if PROPEL_WORD & 1 << bit and bit != 9:
                assert after(state, PROPEL_WORD & ~(1 << bit), UNLOAD).latches == TO_PROPEL, bit
        for bit in (8, 10, 11):
            assert after(state, PROPEL_WORD | 1 << bit, UNLOAD).latches == TO_PROPEL, bit
        assert after(state, PROPEL_WORD & ~THRUST, UNLOAD).latches == REARMED | TO_PROPEL
        assert after(state._replace(latches=REARMED | SOURCE | SAGGING), PROPEL_WORD, UNLOAD).latches & REARMED == 0


class TestBegun:
    """Passing neutral is no start: what inhibits a start asks whether this shaft has propelled since READY."""

    def test_set_by_thrust_and_cleared_by_leaving_ready(self) -> None:
        for others in (0, LINK | REARMED):
            state = REST._replace(latches=others)
            assert after(state, PROPEL_WORD, PROPEL).latches & BEGUN
            begun = state._replace(latches=others | BEGUN)
            for new in (REST_MODE, GENERATE, HARVEST, UNLOAD):
                assert after(state, 0, new).latches & BEGUN == 0, "nothing but thrust begins"
                assert after(begun, 0, new).latches & BEGUN, "passing neutral keeps it"
            assert after(begun, 0, ISOLATED).latches & BEGUN == 0
            for boat_mode in (STANDBY, NEUTRAL_WAIT, TRIPPED):
                assert after(begun, PROPEL_WORD, PROPEL, boat_mode=boat_mode).latches & BEGUN == 0


class TestUnloadTarget:
    def test_set_and_cleared(self) -> None:
        for others in (0, REARMED | LINK, TO_PROPEL):
            for mode in range(6):
                state = REST._replace(mode=mode, latches=others)
                assert after(state, PROPEL_WORD, UNLOAD, to_propel=True).latches & TO_PROPEL
                for new in (REST_MODE, PROPEL, GENERATE, HARVEST, ISOLATED):
                    for to_propel in (True, False):
                        assert not after(state, PROPEL_WORD, new, to_propel=to_propel).latches & TO_PROPEL
                stays = others & TO_PROPEL if mode == UNLOAD else 0
                assert after(state, PROPEL_WORD, UNLOAD).latches & TO_PROPEL == stays

    @pytest.mark.sr("SR-23")
    def test_what_unloads_a_source(self) -> None:
        for others in (0, SOURCE, LINK):
            for mode in range(6):
                state = REST._replace(mode=mode, latches=others)
                for new in (REST_MODE, PROPEL, GENERATE, HARVEST, ISOLATED):
                    assert after(state, 0, new).latches & (SOURCE | LINK) == others & LINK
                expected = SOURCE if mode in (GENERATE, HARVEST) else others & SOURCE
                assert after(state, 0, UNLOAD).latches & (SOURCE | LINK) == expected | others & LINK


class TestRetry:
    def test_leaving_isolation_is_the_one_retry(self) -> None:
        for others in (0, SERVING | LINK, RETRIED):
            state = REST._replace(mode=ISOLATED, latches=FAILED | others, precharge_s=3.1)
            got = after(state, 0, REST_MODE)
            assert (got.latches, got.precharge_s) == (others | RETRIED, 0.0)
            for mode, new in ((ISOLATED, ISOLATED), (REST_MODE, REST_MODE), (UNLOAD, REST_MODE), (REST_MODE, ISOLATED)):
                got = after(state._replace(mode=mode), 0, new)
                assert (got.latches & (FAILED | RETRIED), got.precharge_s) == (FAILED | others & RETRIED, 3.1)
            got = after(state._replace(latches=others), 0, REST_MODE)
            assert (got.latches, got.precharge_s) == (others, 3.1)


@pytest.mark.sr("SR-26")
class TestSlowRamp:
    """A lost lever ramps down in 3 s from wherever the thrust stands."""

    def test_set_by_lost_control_from_propel(self) -> None:
        got = after(REST._replace(mode=PROPEL, torque_nm=55.5), CONTROL_LOST, UNLOAD)
        assert got.ramp_nm_per_s == 18.5
        for torque_nm in (60.0, -60.0):
            for others in (0, LINK, SLOW):
                state = REST._replace(mode=PROPEL, torque_nm=torque_nm, latches=others, ramp_nm_per_s=7.0)
                got = after(state, CONTROL_LOST, UNLOAD)
                assert (got.latches, got.ramp_nm_per_s) == (others | SLOW, 20.0)
                got = after(state, PROPEL_WORD & ~OWN_STAYS, UNLOAD)
                assert (got.latches, got.ramp_nm_per_s) == (others | SLOW, 20.0), "an own interlock ramps likewise"
                for word in (OWN_STAYS, PROPEL_WORD, HANDSET_LOST | OWN_STAYS):
                    got = after(state, word, UNLOAD)
                    assert (got.latches, got.ramp_nm_per_s) == (others, 7.0)
                for new in (REST_MODE, ISOLATED):
                    got = after(state, CONTROL_LOST, new)
                    assert (got.latches, got.ramp_nm_per_s) == (others & ~SLOW, 7.0)
                for mode in (REST_MODE, GENERATE, HARVEST, UNLOAD, ISOLATED):
                    got = after(state._replace(mode=mode), CONTROL_LOST, UNLOAD)
                    assert (got.latches & ~SOURCE, got.ramp_nm_per_s) == (others, 7.0)
                    got = after(state._replace(mode=mode), PROPEL_WORD, PROPEL)
                    assert got.latches & SLOW == 0


def test_everything_else_is_carried() -> None:
    state = FlatShaft(PROPEL, 0, *(float(n) for n in range(10, 19)), 19.0, -1, *(float(n) for n in range(20, 28)))
    for new in range(6):
        got = after(state, THRUST | OWN_STAYS, new)
        assert got._replace(mode=PROPEL, latches=0) == state._replace(latches=0)
        assert got.mode == new
