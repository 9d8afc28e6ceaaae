"""The syntax tree of a function, from the source file, held against the code that runs."""

import ast
import inspect
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import TypeAlias

from sim.prove.solver.values import WalkError

Tree: TypeAlias = "ast.FunctionDef | ast.Lambda"


class Sources:
    """Reads each file once."""

    def __init__(self) -> None:
        self._files: dict[str, tuple[ast.Module, CodeType]] = {}
        self._trees: dict[CodeType, Tree] = {}

    def tree(self, function: FunctionType) -> Tree:
        """The tree of a function or lambda. WalkError where the source is missing or is not what runs."""
        code = function.__code__
        found = self._trees.get(code)
        if found is None:
            found = self._trees[code] = self._find(function)
        return found

    def _find(self, function: FunctionType) -> Tree:
        code = function.__code__
        name = f"{function.__module__}.{function.__qualname__}"
        if function.__dict__.get("__wrapped__") is not None:
            raise WalkError(f"{name} is wrapped by a decorator")
        module, compiled = self._file(code.co_filename, name)
        if not any(one == code for one in _codes(compiled)):
            raise WalkError(f"{name}: {code.co_filename} has changed since it was loaded; start again")
        trees = [node for node in ast.walk(module) if isinstance(node, (ast.FunctionDef, ast.Lambda))]
        if code.co_name != "<lambda>":
            for node in trees:
                if isinstance(node, ast.FunctionDef) and _first_line(node) == code.co_firstlineno:
                    if node.decorator_list:
                        raise WalkError(f"{name} has a decorator")
                    return node
        lambdas = [node for node in trees if isinstance(node, ast.Lambda) and _holds(node, code)]
        if len(lambdas) != 1:
            raise WalkError(f"{name}: its source was not found in {code.co_filename}:{code.co_firstlineno}")
        return lambdas[0]

    def _file(self, filename: str, name: str) -> tuple[ast.Module, CodeType]:
        if filename not in self._files:
            try:
                text = Path(filename).read_text(encoding="utf-8")
            except OSError as error:
                raise WalkError(f"{name}: no source at {filename}") from error
            module = ast.parse(text, filename)
            self._files[filename] = (module, compile(module, filename, "exec", dont_inherit=True))
        return self._files[filename]


def _first_line(node: ast.FunctionDef) -> int:
    return min([node.lineno, *(decorator.lineno for decorator in node.decorator_list)])


def _holds(node: ast.Lambda, code: CodeType) -> bool:
    """The body of the lambda is where the code says that it runs."""
    if node.lineno != code.co_firstlineno:
        return False
    lines = [(line, column) for line, _, column, _ in code.co_positions() if line is not None and column is not None]
    body = node.body
    first, last = (body.lineno, body.col_offset), (body.end_lineno or 0, body.end_col_offset or 0)
    spots = [spot for spot in lines if spot != (code.co_firstlineno, 0)]
    return bool(spots) and all(first <= spot <= last for spot in spots)


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for const in code.co_consts:
        if inspect.iscode(const):
            yield from _codes(const)
