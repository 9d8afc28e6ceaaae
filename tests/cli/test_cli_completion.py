"""`thwart completion` in a real shell, and how soon `--help` answers."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from support import thwart

from sim.cli.app import VERBS, build_parser


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_the_script_knows_verbs_and_options(shell: str) -> None:
    said = thwart("completion", shell)
    assert said.returncode == 0
    for verb in VERBS:
        assert verb in said.stdout
    assert "quick" in said.stdout


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["thwart", "be"], {"bench"}),
        (["thwart", "check", "--qu"], {"--quick"}),
        (["thwart", "check", "mar"], {"marsh_tern"}),
        (["thwart", "check", "my_b"], {"my_boat.toml"}),
    ],
)
def test_bash_completes(words: list[str], expected: set[str], tmp_path: Path) -> None:
    (tmp_path / "my_boat.toml").touch()
    (tmp_path / "script").write_text(thwart("completion", "bash").stdout)
    program = (
        f"source {tmp_path}/script; COMP_WORDS=({' '.join(words)}); COMP_CWORD={len(words) - 1}; "
        "_shtab_thwart; printf '%s\\n' \"${COMPREPLY[@]}\""
    )
    done = subprocess.run(["bash", "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert set(done.stdout.split()) == expected, done.stderr


def test_another_shell_is_refused() -> None:
    said = thwart("completion", "powershell")
    assert said.returncode == 2
    assert "invalid choice" in said.stderr


def test_help_loads_no_verb() -> None:
    """What makes it quick (0.08 s here; 0.3 s asked): nothing but the command line itself is loaded."""
    program = (
        "import sys\nfrom sim.cli.app import dispatch\ndispatch(['--help'])\n"
        "heavy = {'can', 'pydantic', 'numpy', 'supervisor.config', 'sim.bench', 'transitions'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    for verb, (_, says) in VERBS.items():
        assert verb in done.stdout
        assert says in " ".join(done.stdout.split())


def test_a_verb_alone_has_the_options_that_it_has_among_all() -> None:
    whole = build_parser()
    for verb in VERBS:
        alone = build_parser(only=verb)
        assert _options(alone, verb) == _options(whole, verb), verb


def _options(parser: object, verb: str) -> set[str]:
    (choices,) = [action.choices for action in parser._actions if action.choices]  # type: ignore[attr-defined]
    return {option for action in choices[verb]._actions for option in (*action.option_strings, action.dest)}
