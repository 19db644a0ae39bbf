"""Every numeric constant of a module says where its value comes from.

A constant is followed by a docstring that says what it is, in which unit, and that ends with a line

    Source: published, <reference>
    Source: rule book, <rule>
    Source: measured, <card file in models/>
    Source: chosen, insensitive between <a> and <b>
    Source: common practice
    Source: guess
    Source: definition

which a remark in brackets may follow. Constants that were tuned are in their room's
``tuning.py``, which holds nothing else.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "posecheck"
CARDS = ROOT / "models"

_NUMBER = r"-?\d+(?:\.\d+)?(?:e-?\d+)?"
_REMARK = r"(?: \([^()]+\))?\.?"
_FORMS = {
    "published": re.compile(r"published, (?P<reference>\S.*)"),
    "rule book": re.compile(r"rule book, (?P<reference>\S.*)"),
    "measured": re.compile(rf"measured, (?P<card>\S+\.md){_REMARK}"),
    "chosen": re.compile(
        rf"chosen, insensitive between (?P<low>{_NUMBER}) and (?P<high>{_NUMBER}){_REMARK}"
    ),
    "common practice": re.compile(rf"common practice{_REMARK}"),
    "guess": re.compile(rf"guess{_REMARK}"),
    "definition": re.compile(rf"definition{_REMARK}"),
}
_MAKES_ARRAYS = {"array", "radians", "degrees", "eye", "sqrt", "log", "exp", "arange", "float32"}


@dataclass(frozen=True)
class Constant:
    """A numeric constant of a module, and the docstring that follows it."""

    path: Path
    line: int
    name: str
    value: ast.expr
    doc: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line} {self.name}"

    @property
    def source(self) -> str:
        """What the last line of the docstring says, "" when it is no source."""
        last = self.doc.rstrip().rpartition("\n")[2].strip()
        return last.removeprefix("Source: ") if last.startswith("Source: ") else ""


def is_numeric(node: ast.expr, known: set[str]) -> bool:
    """Whether an expression is a number, or a collection or an array of numbers.

    Args:
        node: the expression.
        known: names of numeric constants.
    """
    match node:
        case ast.Constant(value=value):
            return isinstance(value, int | float) and not isinstance(value, bool)
        case ast.Name(id=name):
            return name in known
        case ast.UnaryOp(operand=operand):
            return is_numeric(operand, known)
        case ast.BinOp(left=left, right=right):
            return is_numeric(left, known) and is_numeric(right, known)
        case ast.Tuple(elts=elements) | ast.List(elts=elements) | ast.Set(elts=elements):
            return bool(elements) and all(is_numeric(each, known) for each in elements)
        case ast.Dict(values=values):
            return bool(values) and all(is_numeric(each, known) for each in values)
        case ast.Call(func=ast.Attribute(value=ast.Name(id="np" | "math"), attr=name), args=args):
            return name in _MAKES_ARRAYS and all(is_numeric(each, known) for each in args)
        case ast.Call(func=ast.Name(id="frozenset" | "set" | "float" | "int"), args=args):
            return bool(args) and all(is_numeric(each, known) for each in args)
        case _:
            return False


def constants_in(source: str, path: Path) -> Iterator[Constant]:
    """The numeric constants of a module, in order."""
    body = ast.parse(source).body
    known = {
        alias.asname or alias.name
        for node in body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.name.isupper()
    }
    for node, following in zip(body, [*body[1:], None], strict=True):
        match node:
            case ast.Assign(targets=[target], value=value):
                pass
            case ast.AnnAssign(target=target, value=ast.expr() as value):
                pass
            case _:
                continue
        names = [each.id for each in ast.walk(target) if isinstance(each, ast.Name)]
        # A constant that only renames another has that one's source.
        if isinstance(value, ast.Name) or not is_numeric(value, known):
            continue
        known |= set(names)
        doc = ""
        match following:
            case ast.Expr(value=ast.Constant(value=str() as text)):
                doc = text
        yield Constant(path, node.lineno, ", ".join(names), value, doc)


def fault(constant: Constant) -> str | None:
    """What is wrong with a constant's source, None when nothing is."""
    said = constant.source
    if not said:
        return "has no docstring that ends with a line 'Source: ...'"
    kind = next((kind for kind in _FORMS if said.startswith(kind)), "")
    form = _FORMS[kind].fullmatch(said) if kind else None
    if form is None:
        return f"has a source of no known form: {said}"
    if kind == "measured" and not (CARDS / form["card"]).is_file():
        return f"names a card that is not there: {form['card']}"
    if kind == "chosen":
        low, high = float(form["low"]), float(form["high"])
        scalar = _scalar(constant.value)
        if low >= high or (scalar is not None and not low < scalar < high):
            return f"does not lie between {low:g} and {high:g}"
    return None


def _scalar(node: ast.expr) -> float | None:
    try:
        value = ast.literal_eval(node)
    except ValueError:
        return None
    return float(value) if isinstance(value, int | float) else None


def modules() -> list[Path]:
    """Every module, by its path within the package."""
    return sorted(path.relative_to(PACKAGE) for path in PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", modules(), ids=str)
def test_every_numeric_constant_has_a_source(path: Path) -> None:
    constants = constants_in((PACKAGE / path).read_text("utf-8"), path)
    faults = [f"{each} {what}" for each in constants if (what := fault(each)) is not None]
    assert faults == []


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("tuning.py")), ids=str)
def test_a_table_holds_constants_and_nothing_else(path: Path) -> None:
    source = path.read_text("utf-8")
    constants = {each.line: each for each in constants_in(source, path)}
    docstring, *rest = ast.parse(source).body
    assert isinstance(docstring, ast.Expr)
    statements = [each for each in rest if not isinstance(each, ast.Import | ast.ImportFrom)]
    for statement, text in zip(statements[::2], statements[1::2], strict=True):
        assert isinstance(statement, ast.AnnAssign), f"line {statement.lineno}"
        assert ast.unparse(statement.annotation) == "Final", f"line {statement.lineno}"
        assert statement.lineno in constants, f"line {statement.lineno} is no numeric constant"
        assert isinstance(text, ast.Expr), f"line {text.lineno}"


def test_every_tuned_constant_is_used() -> None:
    words = Counter(
        word
        for path in PACKAGE.rglob("*.py")
        for word in re.findall(r"\w+", path.read_text("utf-8"))
    )
    unused = [
        str(constant)
        for path in PACKAGE.rglob("tuning.py")
        for constant in constants_in(path.read_text("utf-8"), path.relative_to(PACKAGE))
        if words[constant.name] < 2
    ]
    assert unused == []


GOOD = [
    ("published, Winter, 2009, section 3.4.4 (from memory)", "7.0"),
    ("rule book, NCAA Men's Lacrosse Rules, Rule 1", "(1.0, 2.0)"),
    ("measured, GROUND_CARD.md", "np.array([1.0, 2.0])"),
    ("chosen, insensitive between 0.003 and 0.005", "0.004"),
    ("chosen, insensitive between -3 and 1e-2", "-1"),
    ("common practice", "np.radians(10)"),
    ("guess", "{'a': 1, 'b': (2, 3)}"),
    ("definition (half a pixel)", "0.5"),
    ("definition.", "6 * 0.3048"),
]
BAD = [
    ("", "1", "has no docstring"),
    ("because it works", "1", "no known form"),
    ("published,", "1", "no known form"),
    ("measured, NO_CARD.md", "1", "not there"),
    ("chosen, insensitive between 2 and 3", "3", "does not lie between"),
    ("chosen, insensitive between 3 and 2", "(1, 2)", "does not lie between"),
    ("chosen, insensitive between little and much", "1", "no known form"),
    ("guesswork", "1", "no known form"),
]


def one_constant(source: str, value: str) -> Constant:
    text = f'LIMIT = {value}\n"""What it is.\n\nSource: {source}\n"""\n'
    (constant,) = constants_in(text if source else text.replace("Source: ", ""), Path("a.py"))
    return constant


@pytest.mark.parametrize(("source", "value"), GOOD)
def test_sources_that_will_do(source: str, value: str) -> None:
    assert fault(one_constant(source, value)) is None


@pytest.mark.parametrize(("source", "value", "what"), BAD)
def test_sources_that_will_not_do(source: str, value: str, what: str) -> None:
    assert what in (fault(one_constant(source, value)) or "")


@pytest.mark.parametrize(
    "value", ["'a'", "True", "len('a')", "[]", "('a', 1)", "{'a': 'b'}", "{'a': 'b', 'c': 1}"]
)
def test_what_is_no_number_needs_no_source(value: str) -> None:
    assert list(constants_in(f"NAME = {value}\n", Path("a.py"))) == []


def test_a_constant_made_of_others_needs_a_source_too() -> None:
    source = "from a import FOOT_M\nGOAL_M = 6 * FOOT_M\nHALF_M = GOAL_M / 2\nSAME_M = HALF_M\n"
    assert [each.name for each in constants_in(source, Path("a.py"))] == ["GOAL_M", "HALF_M"]
