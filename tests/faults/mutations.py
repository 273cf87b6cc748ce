"""Small changes to a module's source, one at a time: each is a fault that a test should notice."""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
}
_CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Mutant:
    """One changed module: where, what stood there and what stands there now."""

    line: int
    before: str
    after: str
    tree: ast.Module


def mutants(source: str) -> Iterator[Mutant]:
    """Make every mutant of a module, in the order of its source."""
    count = sum(1 for _ in _changes(ast.parse(source)))
    for number in range(count):
        tree = ast.parse(source)
        node, change = next(found for index, found in enumerate(_changes(tree)) if index == number)
        before = ast.unparse(node)
        change()
        yield Mutant(node.lineno, before, ast.unparse(node), ast.fix_missing_locations(tree))


def _changes(tree: ast.Module) -> Iterator[tuple[ast.expr | ast.Return, Callable[[], None]]]:
    """Find what can be changed, each with the change; annotations and texts are let be."""
    for node in _code(tree):
        match node:
            case ast.Compare(ops=[operator, *_]) if type(operator) in _COMPARISONS:
                yield node, _set(node, "ops", [_COMPARISONS[type(operator)](), *node.ops[1:]])
            case ast.BinOp(op=operator) if type(operator) in _OPERATORS:
                yield node, _set(node, "op", _OPERATORS[type(operator)]())
            case ast.BoolOp(op=ast.And()):
                yield node, _set(node, "op", ast.Or())
            case ast.BoolOp(op=ast.Or()):
                yield node, _set(node, "op", ast.And())
            case ast.UnaryOp(op=ast.USub()):
                yield node, _set(node, "op", ast.UAdd())
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                yield node, _set(node, "operand", ast.UnaryOp(ast.Not(), operand))
            case ast.Constant(value=bool(value)):
                yield node, _set(node, "value", not value)
            case ast.Constant(value=int(value) | float(value)):
                yield node, _set(node, "value", value + 1)
            case ast.Call(func=ast.Name(id=name)) if name in _CALLS:
                yield node, _set(node.func, "id", _CALLS[name])
            case ast.IfExp(body=body, orelse=orelse):
                yield node, _swap(node, body, orelse)
            case ast.Return(value=ast.expr() as value) if ast.unparse(value) != "None":
                yield node, _set(node, "value", ast.Constant(None))


def _set(node: ast.AST, field: str, value: object) -> Callable[[], None]:
    return lambda: setattr(node, field, value)


def _swap(node: ast.IfExp, body: ast.expr, orelse: ast.expr) -> Callable[[], None]:
    def change() -> None:
        node.body, node.orelse = orelse, body

    return change


def _code(node: ast.AST) -> Iterator[ast.AST]:
    """Walk what runs and decides: no annotations, decorators, or types of variables."""
    yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _code(child)
