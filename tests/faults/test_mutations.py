"""The faults that are put into code to see whether its tests notice."""

import ast

from tests.faults.mutations import mutants

SOURCE = '''
"""A module."""
LIMIT: int = 3
@decorated(5)
def f(x: float = 1.0) -> bool:
    """Text."""
    if x < LIMIT and not x:
        return min(x, 2) + 1
    return a if x else b
def g():
    return None
'''


def test_each_mutant_is_one_change_of_what_runs() -> None:
    changes = [(mutant.before, mutant.after) for mutant in mutants(SOURCE)]
    assert ("3", "4") in changes
    assert ("1.0", "2.0") in changes
    assert ("x < LIMIT", "x <= LIMIT") in changes
    assert ("x < LIMIT and (not x)", "x < LIMIT or not x") in changes
    assert ("not x", "not not x") in changes
    assert ("min(x, 2)", "max(x, 2)") in changes
    assert ("min(x, 2) + 1", "min(x, 2) - 1") in changes
    assert ("a if x else b", "b if x else a") in changes
    assert ("return min(x, 2) + 1", "return None") in changes
    assert not any(before == "5" for before, _ in changes)


def test_every_mutant_compiles_and_differs_from_the_source() -> None:
    plain = ast.unparse(ast.parse(SOURCE))
    for mutant in mutants(SOURCE):
        compile(mutant.tree, "mutant.py", "exec")
        assert ast.unparse(mutant.tree) != plain
