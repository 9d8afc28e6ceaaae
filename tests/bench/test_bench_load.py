"""Procedure files: what is refused, and in which words."""

from collections.abc import Callable
from pathlib import Path

import pytest
from tiny_rig import TinyRig

from sim.bench import BenchError, bind, load_procedure, parse_procedure

HEAD = 'title = "t"\n'
STEP = HEAD + '[[step]]\nname = "one"\n'


def complaint(text: str) -> str:
    with pytest.raises(BenchError) as caught:
        parse_procedure(text, "p.toml")
    return str(caught.value)


def test_unknown_key_of_the_file() -> None:
    text = complaint('titel = "t"\n[[step]]\nname = "one"\n')
    assert (
        "p.toml: unknown key 'titel'; did you mean title? allowed: boat, needs, purpose, requirements, step, title"
        in text
    )
    assert "p.toml: key 'title' is missing" in text


def test_unknown_key_of_a_step_names_its_number() -> None:
    text = complaint(HEAD + '[[step]]\nname = "one"\n[[step]]\nname = "two"\nwait = 3\n')
    assert "p.toml: step 2: unknown key 'wait'; did you mean wait_s? allowed: clear, do, expect, hold_s, inject" in text


def test_unknown_key_of_an_expectation_names_its_number() -> None:
    text = complaint(STEP + 'expect = [{ signal = "a", value = 1 }, { signal = "a", value = 1, whithin_s = 2 }]\n')
    assert (
        "p.toml: step 1, expect 2: unknown key 'whithin_s'; did you mean within_s? allowed: after_s, against, always"
        in text
    )


def test_fault_without_target() -> None:
    assert "step 1, inject 1: key 'target' is missing" in complaint(STEP + 'inject = [{ fault = "stuck" }]\n')


def test_broken_toml_names_the_line() -> None:
    assert "p.toml: not valid TOML" in complaint(STEP + "wait_s = = 3\n")
    assert "line 4" in complaint(STEP + "wait_s = = 3\n")


@pytest.mark.parametrize("number", ["nan", "inf", "-1", "86401", '"3"', "true"])
def test_waits_that_are_no_times(number: str) -> None:
    assert "step 1, wait_s: " in complaint(STEP + f"wait_s = {number}\n")


@pytest.mark.parametrize(
    ("expectation", "words"),
    [
        ('{ value = 1 }', "give one of: signal, explain"),
        ('{ signal = "a", explain = "enable", value = 1 }', "give one of: signal, explain"),
        ('{ signal = "a" }', "a signal needs one of: value"),
        ('{ signal = "a", value = 1, between = [1, 2] }', "a signal needs one of: value"),
        ('{ signal = "a", value = 1, against = "b" }', "a signal needs one of: value"),
        ('{ signal = "a", between = [3, 2] }', "low above high"),
        ('{ signal = "a", op = "<", between = [1, 2] }', 'op = "between" goes with'),
        ('{ signal = "a", op = "~", value = 1 }', "needs tol"),
        ('{ signal = "a", op = "=", value = 1 }', "Allowed: '=='"),
        ('{ signal = "a", op = "<", value = "READY" }', "a word can only be compared"),
        ('{ signal = "a", op = "has", value = 3 }', "has needs a word"),
        ('{ signal = "a", value = 1, over_s = 2 }', "over_s goes with"),
        ('{ signal = "a", value = 1, says = "x" }', "says belongs to"),
        ('{ explain = "enable" }', "explain needs says"),
        ('{ explain = "enable", says = "x", value = 3 }', "belong to a signal"),
        ('{ event = "explosion" }', "Allowed: 'mode'"),
        ('{ signal = "a", value = 1, always = true, never = true }', "exclude each other"),
        ('{ signal = "a", value = 1, always = true, within_s = 1 }', "last for the whole step"),
        ('{ signal = "a", value = 1, never = true, for_s = 1 }', "last for the whole step"),
        ('{ signal = "a", value = 1, after_s = 1 }', "after_s goes with"),
        ('{ event = "trip", always = true }', "always needs"),
        ('{ event = "trip", for_s = 1 }', "for_s needs a signal"),
        ('{ signal = "a", value = 1, within_s = 0 }', "More than 0"),
    ],
)  # fmt: skip
def test_contradictory_expectations(expectation: str, words: str) -> None:
    text = complaint(STEP + f"wait_s = 2\nexpect = [{expectation}]\n")
    assert text.startswith("p.toml: step 1, expect 1")
    assert words in text


@pytest.mark.parametrize("timing", ["", "wait_s = 1", "wait_s = 0.5\nhold_s = 0.5"])
def test_a_watch_that_can_never_start_is_refused(timing: str) -> None:
    body = f'{timing}\nexpect = [{{ signal = "a", value = 1, always = true, after_s = 1 }}]\n'
    assert "always and never need time to watch" in complaint(STEP + body)


@pytest.mark.parametrize("tag", ["SR-1", "sr-01", "SR-001"])
def test_requirement_tags(tag: str) -> None:
    assert "requirements" in complaint(f'title = "t"\nrequirements = ["{tag}"]\n[[step]]\nname = "x"\n')


def test_no_step() -> None:
    assert "key 'step' is missing" in complaint(HEAD)


def test_dotted_keys_need_no_quotes() -> None:
    step = parse_procedure(STEP + "do.port.lever_pct = 20\nset = { bank.soc_pct = 50 }\n", "p").step[0]
    assert step.do == {"port.lever_pct": 20.0}
    assert step.set == {"bank.soc_pct": 50.0}


def test_unreadable_files(tmp_path: Path) -> None:
    with pytest.raises(BenchError, match="cannot be read: No such file"):
        load_procedure(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b'title = "caf\xe9"\n')
    with pytest.raises(BenchError, match="UTF-8"):
        load_procedure(tmp_path / "latin.toml")


@pytest.fixture
def refused(rig: TinyRig) -> Callable[[str], str]:
    def bound(body: str) -> str:
        with pytest.raises(BenchError) as caught:
            bind(parse_procedure(STEP + body, "p.toml"), rig, "p.toml")
        return str(caught.value)

    return bound


def test_unknown_target_suggests(refused: Callable[[str], str]) -> None:
    text = refused("do.port.lever = 20\n")
    assert "p.toml: step 1, do: unknown target 'port.lever'; did you mean port.lever_pct" in text
    assert "helm.enable" in text


@pytest.mark.parametrize(
    ("action", "allowed"),
    [
        ("port.lever_pct = 101", "a number from -100 to 100 %"),
        ('port.lever_pct = "press"', "a number from -100 to 100 %"),
        ("port.lever_pct = true", "a number from -100 to 100 %"),
        ('port.charge = "on"', '"off", "under_way", "at_rest"'),
        ("helm.enable = 1", '"press", true, false'),
        ('helm.emergency_stop = "press"', "true, false"),
        ("hotel.load_w = -1", "a number from 0 to 20000 W"),
    ],
)
def test_values_that_a_target_does_not_take(refused: Callable[[str], str], action: str, allowed: str) -> None:
    target = action.partition(" ")[0]
    text = refused(f"do.{action}\n")
    assert f"p.toml: step 1, do, {target}: " in text
    assert f"allowed: {allowed}" in text


def test_unknown_signal_jump_and_fault(refused: Callable[[str], str]) -> None:
    assert "step 1, expect 1: unknown signal 'bank.soc'; did you mean bank.soc_pct?" in refused(
        'expect = [{ signal = "bank.soc", value = 1 }]\n'
    )
    assert "expect 1: unknown signal 'x.y'" in refused('expect = [{ signal = "bank.soc_pct", against = "x.y" }]\n')
    assert "step 1, set: unknown target 'bank.volts'; allowed: bank.soc_pct" in refused("set.bank.volts = 3\n")
    assert "inject 1: unknown fault 'gremlin'; allowed: node_silent, stuck" in refused(
        'inject = [{ fault = "gremlin", target = "monitor" }]\n'
    )
    assert "clear 1: unknown fault" in refused('clear = [{ fault = "gremlin", target = "monitor" }]\n')


@pytest.mark.parametrize(
    ("expectation", "words"),
    [
        ('{ signal = "boat.mode", op = "<", value = 3 }', "is a text"),
        ('{ signal = "boat.mode", value = 3 }', "boat.mode is a text, the value 3.0 is not"),
        ('{ signal = "bank.soc_pct", value = "full" }', "bank.soc_pct is a number"),
        ('{ signal = "bank.soc_pct", against = "boat.mode" }', "cannot be compared"),
        ('{ signal = "boat.mode", value = "RAEDY" }', "unknown mode 'RAEDY'; did you mean READY?"),
        ('{ signal = "port.mode", value = "READY", never = true }', "unknown mode 'READY'"),
    ],
)
def test_expectations_that_cannot_fit_the_signal(refused: Callable[[str], str], expectation: str, words: str) -> None:
    assert words in refused(f"wait_s = 1\nexpect = [{expectation}]\n")


def test_wrong_boat(rig: TinyRig) -> None:
    procedure = parse_procedure('title = "t"\nboat = "reed_warbler"\n[[step]]\nname = "x"\n', "p.toml")
    with pytest.raises(BenchError, match="written for 'reed_warbler', this boat is 'tiny'"):
        bind(procedure, rig, "p.toml")


def test_shaft_words() -> None:
    body = """
do = { each.lever_pct = 10, first.charge = "under_way", others.gear = "ahead", handset.each_pct = 3 }
inject = [{ fault = "stuck", target = "others" }]
expect = [
  { signal = "each.torque_nm", op = "<=", against = "each.order_nm" },
  { explain = "first PROPEL", says = "x" },
  { event = "mode", subject = "others" },
]
"""
    step = bind(parse_procedure(STEP + body, "p"), TinyRig(("left", "middle", "right")))[0]
    assert dict(step.do) == {
        "left.lever_pct": 10, "middle.lever_pct": 10, "right.lever_pct": 10,
        "left.charge": "under_way", "middle.gear": "ahead", "right.gear": "ahead",
        "handset.left_pct": 3, "handset.middle_pct": 3, "handset.right_pct": 3,
    }  # fmt: skip
    assert [call.target for call in step.inject] == ["middle", "right"]
    assert [(e.signal, e.against, e.explain, e.subject) for e in step.expect] == [
        ("left.torque_nm", "left.order_nm", None, None),
        ("middle.torque_nm", "middle.order_nm", None, None),
        ("right.torque_nm", "right.order_nm", None, None),
        (None, None, "left PROPEL", None),
        (None, None, None, "middle"),
        (None, None, None, "right"),
    ]


def test_others_of_a_single_shaft_are_none() -> None:
    body = 'do.others.lever_pct = 10\nexpect = [{ signal = "others.torque_nm", value = 0 }]\n'
    step = bind(parse_procedure(STEP + body, "p"), TinyRig(("only",)))[0]
    assert step.do == ()
    assert step.expect == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (STEP + "wait_s = -1\n", "step 1, wait_s: At least 0 (given: -1)"),
        (STEP + "wait_s = nan\n", "step 1, wait_s: Give a finite number (given: nan)"),
        (STEP + 'wait_s = "3"\n', "step 1, wait_s: Give a number, without quotes (given: '3')"),
        (STEP + 'expect = [{ signal = "a", value = nan }]\n', "value: Give a finite number, a word in quotes, true or"),
        (HEAD + '[step]\nname = "one"\n', "step: Give a list"),
        (HEAD + 'requirements = ["SR-1"]\n[[step]]\nname = "one"\n', "requirements 1: Written as SR-01"),
        (STEP + "wiat_s = 1\n", "unknown key 'wiat_s'; did you mean wait_s? allowed: clear"),
    ],
)
def test_what_is_allowed_is_said_in_plain_words_and_once(text: str, words: str) -> None:
    said = complaint(text)
    assert words in said
    assert len(said.splitlines()) == 1
    for foreign in ("Input should", "String should", "List should", "validation"):
        assert foreign not in said


def test_a_requirement_that_nobody_has_is_refused() -> None:
    """A verdict must not claim to show what does not exist."""
    said = complaint('title = "t"\nrequirements = ["SR-20", "SR-89"]\n[[step]]\nname = "x"\n')
    assert "p.toml: requirements: SR-89 is not in the register" in said


def test_a_byte_order_mark_is_no_error(tmp_path: Path) -> None:
    file = tmp_path / "p.toml"
    file.write_bytes(b"\xef\xbb\xbf" + STEP.encode())
    assert load_procedure(file).title == "t"
