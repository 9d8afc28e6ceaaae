"""Claims on orders: edges, off, the one control position, and that modes change by the tables and by nothing else."""

from sim.prove.claims_bank import always
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    KEPT,
    READY,
    handset_asks,
    handset_now,
    lever_neutral,
    live,
    out_of_service,
)
from sim.requirements.facts import BOAT, SHAFT, has, no, yes
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE

# --- edges


def pressed(step: Step, bit: int, was_off: int) -> bool:
    """Seen on, and seen off one tick before."""
    return step.was.boat.latches & was_off != 0 and yes(step.boat_in, bit)


def enable_pressed(step: Step, i: int) -> bool:
    return (step.now.orders.enable_edge == 1) == pressed(step, BOAT.ENABLE, KEPT.ENABLE_WAS_OFF)


def reset_pressed(step: Step, i: int) -> bool:
    return (step.now.orders.reset_edge == 1) == pressed(step, BOAT.RESET, KEPT.RESET_WAS_OFF)


def acknowledge_pressed(step: Step, i: int) -> bool:
    return (step.now.orders.acknowledge == 1) == pressed(step, BOAT.ACKNOWLEDGE, KEPT.ACKNOWLEDGE_WAS_OFF)


def seen_off(step: Step, i: int) -> bool:
    """What was seen off is exactly what is known and off now; of the handset only ours counts."""
    bank, latches = step.boat_in, step.now.memory.boat.latches
    edges = (latches & KEPT.ENABLE_WAS_OFF != 0) == no(bank, BOAT.ENABLE)
    edges = edges and (latches & KEPT.RESET_WAS_OFF != 0) == no(bank, BOAT.RESET)
    edges = edges and (latches & KEPT.ACKNOWLEDGE_WAS_OFF != 0) == no(bank, BOAT.ACKNOWLEDGE)
    return edges and (latches & KEPT.HELD_WAS_OFF != 0) == (linked(step) and no(bank, BOAT.HANDSET_HELD))


def off_ordered(step: Step) -> bool:
    """Off is pressed now, or was while the boat has been on its way to READY or in it ever since."""
    remembered = step.was.boat.latches & KEPT.OFF_WANTED != 0 and live(step.was.boat.mode)
    return yes(step.boat_in, BOAT.DISABLE) or remembered


def off_is_ordered(step: Step, i: int) -> bool:
    wanted = step.now.memory.boat.latches & KEPT.OFF_WANTED != 0
    return wanted == off_ordered(step) and (step.now.orders.off_order == 1) == off_ordered(step)


# --- the handset


def thrusts_known(step: Step) -> bool:
    """The handset's thrust is known for every shaft."""
    known = True
    for i in range(len(step.shaft_in)):
        known = known and has(step.shaft_in[i], SHAFT.HANDSET_THRUST)
    return known


def thrusts_zero(step: Step) -> bool:
    """And asks nothing of any."""
    zero = thrusts_known(step)
    for i in range(len(step.shaft_in)):
        zero = zero and not handset_asks(step, i)
    return zero


def levers_now(step: Step) -> bool:
    """Every lever that is not out of service is in neutral at this tick."""
    neutral = True
    for i in range(len(step.shaft_in)):
        neutral = neutral and (out_of_service(step, i) or lever_neutral(step, i))
    return neutral


def levers_long(step: Step) -> bool:
    """And has been for the dwell."""
    neutral = levers_now(step)
    for i in range(len(step.shaft_in)):
        dwelt = step.was.shafts[i].dwells.neutral_s >= step.config.limits.neutral_s
        neutral = neutral and (out_of_service(step, i) or dwelt)
    return neutral


def linked(step: Step) -> bool:
    """Our handset is heard, whole."""
    return has(step.boat_in, BOAT.HANDSET_HELD) and yes(step.boat_in, BOAT.HANDSET_OURS) and thrusts_known(step)


def was_in_control(step: Step) -> bool:
    return step.was.boat.latches & KEPT.HANDSET_IN_CONTROL != 0


def handset_fails(step: Step) -> bool:
    """In control, its link or a lever fails."""
    return was_in_control(step) and (not linked(step) or not levers_now(step))


def lost_at_once(step: Step, i: int) -> bool:
    """The order of a handset that fails in READY: lost."""
    return (step.now.orders.handset_lost == 1) == (handset_fails(step) and step.was.boat.mode == READY)


def takes(step: Step) -> bool:
    """The handset takes over: fresh press, ours, charged, all levers neutral for the dwell, nothing asked, not off."""
    bank = step.boat_in
    fresh = pressed(step, BOAT.HANDSET_HELD, KEPT.HELD_WAS_OFF) and linked(step)
    charged = has(bank, BOAT.HANDSET_MINUTES) and bank.handset_minutes >= step.config.limits.handset_low_minutes
    calm = levers_long(step) and thrusts_zero(step) and not off_ordered(step)
    return step.was.boat.mode == READY and fresh and charged and calm


def keeps(step: Step) -> bool:
    """And keeps control while held, in READY, without a failure."""
    held = yes(step.boat_in, BOAT.HANDSET_HELD) and step.was.boat.mode == READY
    return was_in_control(step) and held and not handset_fails(step)


def in_control(step: Step, i: int) -> bool:
    return handset_now(step)


def may_control(step: Step, i: int) -> bool:
    return takes(step) or keeps(step)


def shown_in_control(step: Step, i: int) -> bool:
    return (step.now.boat_command.handset_in_control == 1) == handset_now(step)


def conflict_told(step: Step, i: int) -> bool:
    held = yes(step.boat_in, BOAT.HANDSET_HELD) and step.boat_in.on & BOAT.HANDSET_OURS != 0
    return (step.now.orders.handset_conflict == 1) == (held and not levers_now(step))


def loss_remembered(step: Step, i: int) -> bool:
    """Until the crew acknowledges it, or takes the handset again."""
    now = step.now.memory.boat.latches & KEPT.HANDSET_WAS_LOST != 0
    if handset_fails(step) and step.was.boat.mode == READY:
        return now
    if takes(step) or step.now.orders.acknowledge == 1:
        return not now
    return now == (step.was.boat.latches & KEPT.HANDSET_WAS_LOST != 0)


def orders_kept(step: Step, i: int) -> bool:
    others = (
        KEPT.CHARGE_ENDED
        | KEPT.DERATE_ENDED
        | KEPT.FULL_DONE
        | KEPT.OWN_TO_ACKNOWLEDGE
        | KEPT.ASTERN_SHORT
        | KEPT.UNDER_WAY
        | KEPT.THRUST_SHORT
    )
    return step.now.memory.boat.latches & ~others == step.now.orders.latches & ~others


# --- modes

BOAT_ROWS = tuple((int(r.source), int(r.must), int(r.must_not), int(r.dest)) for r in BOAT_TABLE)
SHAFT_ROWS = tuple((int(r.source), int(r.must), int(r.must_not), int(r.dest)) for r in SHAFT_TABLE)


def first_row(rows: tuple[tuple[int, int, int, int], ...], mode: int, word: int) -> int:
    """The first row of `mode` that matches `word`, -1 for none."""
    for number in range(len(rows)):
        source, must, must_not, _ = rows[number]
        if mode == source and word & must == must and word & must_not == 0:
            return number
    return -1


def follows(rows: tuple[tuple[int, int, int, int], ...], was: int, row: int, now: int) -> bool:
    """`now` is the destination of `row`, or the mode as it was."""
    for number in range(len(rows)):
        if row == number:
            return now == rows[number][3]
    return row == -1 and now == was


def boat_by_table(step: Step, i: int) -> bool:
    was, now = step.was.boat.mode, step.now.memory.boat.mode
    row = step.now.boat_row
    return row == first_row(BOAT_ROWS, was, step.now.boat_word) and follows(BOAT_ROWS, was, row, now)


def shaft_by_table(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i].mode, step.now.memory.shafts[i].mode
    row = step.now.shaft_rows[i]
    return row == first_row(SHAFT_ROWS, was, step.now.shaft_words[i]) and follows(SHAFT_ROWS, was, row, now)


def _boat(requirement: str, name: str, text: str, then, given=always) -> StepClaim:  # type: ignore[no-untyped-def]
    return StepClaim(requirement, name, text, given, then, per_shaft=False, parity=False)


ORDER_CLAIMS: tuple[StepClaim, ...] = (
    _boat("SR-04", "enable is an edge", "enable counts exactly when it is seen on after it was seen off one tick before",
          enable_pressed),
    _boat("SR-04", "reset is an edge", "so does reset", reset_pressed),
    _boat("SR-35", "acknowledge is an edge", "so does acknowledge", acknowledge_pressed),
    _boat("SR-36", "seen off", "a button counts as seen off exactly when it is known and off now; the handset's only "
          "while it is ours and heard", seen_off),
    _boat("SR-45", "off is remembered", "off is ordered while pressed, and remembered until the boat has left READY and "
          "NEUTRAL_WAIT", off_is_ordered),
    _boat("SR-27", "handset lost", "a handset in control whose link or levers fail in READY is lost in that tick",
          lost_at_once),
    _boat("SR-29", "handset in control", "the handset is in control only if it took over (READY, fresh press, ours, "
          "charged, all levers in neutral for the dwell, nothing asked, not off) and has been held and heard since, "
          "with all levers in neutral", may_control, in_control),
    _boat("SR-49", "handset is not denied", "and then it is in control: neither denied nor taken away", in_control, may_control),
    _boat("SR-29", "position is shown", "the position in control is shown", shown_in_control),
    _boat("SR-29", "conflict is told", "a handset held beside a lever that is not in neutral is told", conflict_told),
    _boat("SR-27", "loss is remembered", "the loss of a handset is remembered until acknowledged or taken again",
          loss_remembered),
    _boat("SR-36", "orders are remembered", "the latches of the orders are remembered as they were decided",
          orders_kept),
    _boat("SR-04", "boat's mode by the table", "the boat's mode changes by the first row that its word matches, and by "
          "nothing else", boat_by_table),
    StepClaim("SR-05", "shaft's mode by the table", "a shaft's mode changes by the first row that its word matches, "
              "and by nothing else", always, shaft_by_table, parity=False),
)  # fmt: skip
