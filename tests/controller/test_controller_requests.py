"""Lever and selectors that are asked in vain are answered, once."""

from boatyard.rig import Rig

from supervisor.controller.events import EventKind


def answers(rig: Rig, seconds: float) -> list[tuple[str, str]]:
    """(subject, text) of the refusals within the next seconds."""
    found = []
    for _ in range(round(seconds / 0.02)):
        for event in rig.tick().events:
            if event.kind == EventKind.REFUSAL:
                found.append((event.subject, event.text))
    return found


def test_thrust_in_gear_with_a_dead_engine_says_why_after_half_a_second() -> None:
    rig = Rig().ready()
    rig.engine("port", 0, "ahead")
    rig.lever("port", 60)
    assert answers(rig, 0.4) == []
    [(subject, text)] = answers(rig, 2.0)
    assert subject == "port"
    assert text.startswith("no thrust: ")
    assert "gearbox is not confirmed in neutral" in text


def test_a_lever_that_gets_what_it_asks_is_not_answered() -> None:
    rig = Rig().ready()
    rig.lever("port", 60)
    assert answers(rig, 2.0) == []


def test_outside_ready_the_mode_is_the_answer_and_not_again_at_once() -> None:
    rig = Rig()
    rig.run(2.0)
    for time in range(3):
        rig.lever("port", 60)
        said = answers(rig, 1.0)
        rig.lever("port", 0)
        said += answers(rig, 1.0)
        if time == 0:
            assert said == [("port", "no thrust: the boat is in STANDBY")]
        else:
            assert said == []


def test_the_lever_of_a_running_engine_in_gear_is_a_throttle() -> None:
    rig = Rig().ready()
    rig.engine("port", 1500, "ahead")
    rig.lever("port", 60)
    assert answers(rig, 2.0) == []


def test_selectors_beside_a_stopped_engine_and_on_a_full_bank() -> None:
    rig = Rig().ready()
    rig["port.shaft.charge_under_way"] = True
    [(_, text)] = answers(rig, 1.0)
    assert text.startswith("no charging under way: ")
    rig["port.shaft.charge_under_way"] = False
    rig["bank.soc_pct"] = 96.0
    answers(rig, 0.2)
    rig["starboard.shaft.harvest"] = True
    [(subject, text)] = answers(rig, 1.0)
    assert (subject, text.split(":")[0]) == ("starboard", "no harvest")


def test_what_waits_is_saved_and_restored() -> None:
    rig = Rig().ready()
    rig.engine("port", 0, "ahead")
    rig.lever("port", 60)
    rig.run(0.3)
    saved = rig.controller.save()
    assert len(answers(rig, 1.0)) == 1
    rig.controller.restore(saved)
    assert rig.controller.save().pending == saved.pending
