"""Small faults put into source text: one operator, constant, condition or return value at a time."""

from __future__ import annotations

import ast
import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

COMPARISONS: Final[dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
"""The boundary moves, or the comparison turns round."""
ARITHMETIC: Final[dict[type[ast.operator], type[ast.operator]]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
EXTREMES: Final = {"min": "max", "max": "min", "any": "all", "all": "any"}
TOLERANCE: Final = 1e-5
"""A constant below this is a tolerance for rounding; a tenth more of it would change nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One fault at one place.

    Attributes
    ----------
    file
        Path of the source, as given.
    function
        Qualified name of the function around it; empty at the top level of a module.
    line
        Of its first character, from 1.
    start, stop
        Bytes of the source that are replaced.
    text
        The line.
    before, after
        What stands there and what replaces it.
    compiled
        Whether machine code is made of this place.
    """

    file: str
    function: str
    line: int
    start: int
    stop: int
    text: str
    before: str
    after: str
    compiled: bool

    def apply(self, source: bytes) -> bytes:
        """Return the source with the fault, every other line at its number."""
        lost = source[self.start : self.stop].count(b"\n")
        return source[: self.start] + self.after.encode() + b"\n" * lost + source[self.stop :]

    def __str__(self) -> str:
        """Say where it is and what it changes."""
        where = f"{self.file}:{self.line}" + (f" ({self.function})" if self.function else "")
        change = f"{' '.join(self.before.split())} → {self.after}"
        return f"{where}: {change}" + ("" if self.text == self.before else f"   in: {self.text}")


def mutants_of(source: bytes, *, file: str) -> list[Mutant]:
    """Find every place of a module where one small fault can be put.

    Left out are annotations, decorators, docstrings, formatted texts, ``raise`` and ``assert`` statements,
    ``strict=`` of ``zip``, the digits of ``round`` and patterns of ``match``.

    Parameters
    ----------
    source
        Of the module.
    file
        Its path, for the report.

    Returns
    -------
    list of Mutant
        In the order of the source.
    """
    tree = ast.parse(source)
    has_kernels = any(_is_kernel(node) for node in ast.walk(tree))
    walker = _Walker(source, file, has_kernels=has_kernels)
    return sorted(walker.visit(tree, function="", compiled=has_kernels), key=lambda one: one.start)


def _is_kernel(node: ast.AST) -> bool:
    """Say whether a node is a function that is compiled."""
    return isinstance(node, ast.FunctionDef) and any(
        isinstance(one, ast.Name) and one.id == "compiled" for one in node.decorator_list
    )


class _Walker:
    """Goes through one module."""

    def __init__(self, source: bytes, file: str, *, has_kernels: bool) -> None:
        self.source = source
        self.file = file
        self.has_kernels = has_kernels
        self.lines = [line.strip().decode() for line in source.splitlines()]
        self.line_starts = [0]
        for line in source.splitlines(keepends=True):
            self.line_starts.append(self.line_starts[-1] + len(line))

    def visit(self, node: ast.AST, *, function: str, compiled: bool) -> Iterator[Mutant]:
        if isinstance(
            node, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom | ast.pattern
        ):
            return
        if isinstance(node, ast.stmt | ast.expr):
            for after in (*_of_expression(node), *_of_statement(node)):
                yield self._mutant(node, after, function=function, compiled=compiled)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            function = f"{function}.{node.name}" if function else node.name
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            compiled = _is_kernel(node)
        for child in _children(node):
            yield from self.visit(child, function=function, compiled=compiled)
        for condition in _conditions(node):
            after = f"(not {ast.unparse(condition)})"
            yield self._mutant(condition, after, function=function, compiled=compiled)

    def _mutant(self, node: ast.stmt | ast.expr, after: str, *, function: str, compiled: bool) -> Mutant:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self.line_starts[node.lineno - 1] + node.col_offset
        stop = self.line_starts[node.end_lineno - 1] + node.end_col_offset
        return Mutant(
            file=self.file,
            function=function,
            line=node.lineno,
            start=start,
            stop=stop,
            text=self.lines[node.lineno - 1],
            before=self.source[start:stop].decode(),
            after=after,
            compiled=compiled,
        )


def _children(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the parts of a node that are worth a fault."""
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "type_comment"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST):
                continue
            if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
                continue
            if isinstance(child, ast.keyword) and child.arg == "strict":
                continue
            if isinstance(child, ast.If) and ast.unparse(child.test) == "TYPE_CHECKING":
                continue
            if isinstance(node, ast.Call) and _is_call_of(node, "round") and child in node.args[1:]:
                continue
            yield child


def _is_call_of(node: ast.Call, name: str) -> bool:
    return isinstance(node.func, ast.Name) and node.func.id == name


def _conditions(node: ast.AST) -> Iterator[ast.expr]:
    """Yield conditions without an operator of their own."""
    if isinstance(node, ast.If | ast.While | ast.IfExp):
        tests = [node.test]
    elif isinstance(node, ast.BoolOp):
        tests = node.values
    elif isinstance(node, ast.comprehension):
        tests = node.ifs
    else:
        return
    for test in tests:
        if isinstance(test, ast.Name | ast.Attribute | ast.Call) and ast.unparse(test) != "TYPE_CHECKING":
            yield test


def _of_expression(node: ast.AST) -> Iterator[str]:
    changed: list[ast.AST] = []
    if isinstance(node, ast.Compare):
        for index, operator in enumerate(node.ops):
            for other in COMPARISONS[type(operator)]:
                new = copy.deepcopy(node)
                new.ops[index] = other()
                changed.append(new)
    elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC and not _is_text(node):
        new_sum = copy.deepcopy(node)
        new_sum.op = ARITHMETIC[type(node.op)]()
        changed.append(new_sum)
    elif isinstance(node, ast.BoolOp):
        new_logic = copy.deepcopy(node)
        new_logic.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        changed.append(new_logic)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        changed.append(node.operand)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in EXTREMES:
        new_call = copy.deepcopy(node)
        new_call.func = ast.Name(EXTREMES[node.func.id])
        changed.append(new_call)
    elif isinstance(node, ast.Constant):
        yield from (repr(value) for value in _other_values(node.value))
    yield from (f"({ast.unparse(one)})" for one in changed)


def _of_statement(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Return) and node.value is not None:
        # No and nothing are often asked for in the same way.
        if ast.unparse(node.value) not in {"None", "False"}:
            yield "return None"
    elif isinstance(node, ast.AugAssign) and type(node.op) in ARITHMETIC:
        new = copy.deepcopy(node)
        new.op = ARITHMETIC[type(node.op)]()
        yield ast.unparse(new)


def _is_text(node: ast.BinOp) -> bool:
    """Say whether texts are joined."""
    sides = (side for side in ast.walk(node) if isinstance(side, ast.Constant | ast.JoinedStr))
    return any(isinstance(side, ast.JoinedStr) or isinstance(side.value, str) for side in sides)


def _other_values(value: object) -> list[object]:
    """Return values a little larger and smaller."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1, value - 1]
    if isinstance(value, float):
        if value == 0.0:
            return [1.0, -1.0]
        more = 100.0 if abs(value) < TOLERANCE else 1.1
        return [float(f"{value * more:.12g}"), float(f"{value / more:.12g}")]
    return []
