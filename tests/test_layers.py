"""The floors of farmcase: who may import whom, and how large a module or a function may grow.

The rules are read from the source with ``ast``; nothing of farmcase is imported here.
"""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "farmcase"

# From the ground up: a module imports only from an earlier line, or from its own.
FLOORS: tuple[tuple[str, ...], ...] = (
    ("errors", "compiled", "units", "words", "moist_air"),
    ("inputs",),
    ("climate",),
    ("crop",),
    ("energy",),
    ("costs",),
    ("money",),
    ("model",),
    ("risk",),
    ("choice",),
    ("output",),
    ("track",),
    ("board",),
    ("__init__", "__main__"),
)
RANK = {name: rank for rank, names in enumerate(FLOORS) for name in names}

MOST_LINES_OF_A_MODULE = 300
MOST_CODE_LINES_OF_A_FUNCTION = 50
FEWEST_SENTENCES_OF_A_FLOOR = 3

FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Module:
    """One source file: its dotted name below the package ("" for the package itself)."""

    name: str
    path: Path
    tree: ast.Module
    text: str

    @property
    def is_package(self) -> bool:
        return self.path.name == "__init__.py"

    @property
    def floor(self) -> str:
        return self.name.split(".")[0] or "__init__"


@dataclass(frozen=True)
class Import:
    """One import of our own: the module that is named, its line, whether a function hides it."""

    target: str
    line: int
    hidden: bool


def read_modules(root: Path) -> dict[str, Module]:
    """Every module under the package folder, by dotted name."""
    modules = {}
    for path in sorted(root.rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        text = path.read_text(encoding="utf-8")
        modules[name] = Module(name, path, ast.parse(text, str(path)), text)
    return modules


def own_imports(module: Module, package: str, known: set[str]) -> Iterator[Import]:
    """The imports of our own modules in one module, wherever they stand."""
    for node, outer in walk_with_functions(module.tree):
        lazy_door = module.name == "" and outer == ("__getattr__",)
        for target in targets_of(node, module, package, known):
            yield Import(target, getattr(node, "lineno", 0), bool(outer) and not lazy_door)


def walk_with_functions(
    node: ast.AST, outer: tuple[str, ...] = ()
) -> Iterator[tuple[ast.AST, tuple[str, ...]]]:
    """Every node below this one, each with the names of the functions around it."""
    for child in ast.iter_child_nodes(node):
        yield child, outer
        inside = outer
        if isinstance(child, FunctionNode | ast.Lambda):
            inside = (*outer, getattr(child, "name", "lambda"))
        yield from walk_with_functions(child, inside)


def targets_of(node: ast.AST, module: Module, package: str, known: set[str]) -> list[str]:
    """The own modules that one node imports, as names below the package."""
    if isinstance(node, ast.Import):
        dotted = [alias.name for alias in node.names]
    elif isinstance(node, ast.ImportFrom):
        base = absolute_base(node, module, package)
        dotted = [f"{base}.{alias.name}" for alias in node.names]
    elif isinstance(node, ast.Call) and called_name(node) in {"import_module", "__import__"}:
        dotted = [imported_by_call(node, module, package)]
    else:
        return []
    return [
        nearest_module(name.removeprefix(package).removeprefix("."), known)
        for name in dotted
        if name == package or name.startswith(package + ".")
    ]


def absolute_base(node: ast.ImportFrom, module: Module, package: str) -> str:
    """What stands after ``from``, with leading dots worked out."""
    if not node.level:
        return node.module or ""
    folders = [package, *filter(None, module.name.split("."))]
    up = node.level - 1 if module.is_package else node.level
    folders = folders[: len(folders) - up]
    return ".".join([*folders, *filter(None, [node.module])])


def called_name(node: ast.Call) -> str:
    """The last word of what a call calls."""
    if isinstance(node.func, ast.Attribute):
        return node.func.attr
    return node.func.id if isinstance(node.func, ast.Name) else ""


def imported_by_call(node: ast.Call, module: Module, package: str) -> str:
    """What ``import_module(...)`` names; a name that cannot be read counts as our own."""
    first = node.args[0] if node.args else None
    if not (isinstance(first, ast.Constant) and isinstance(first.value, str)):
        return package
    if not first.value.startswith("."):
        return first.value
    tail = first.value.lstrip(".")
    level = len(first.value) - len(tail)
    return absolute_base(ast.ImportFrom(module=tail, names=[], level=level), module, package)


def nearest_module(name: str, known: set[str]) -> str:
    """The longest part of a dotted name that is a module (the rest names something in it)."""
    while name and name not in known:
        name = name.rpartition(".")[0]
    return name


def import_faults(root: Path) -> list[str]:
    """Every import that breaks a rule of the floors, as a sentence."""
    modules = read_modules(root)
    faults = []
    edges: dict[str, set[str]] = {}
    for module in modules.values():
        here = f"{root.name}/{module.path.relative_to(root).as_posix()}"
        if module.floor not in RANK:
            faults.append(f"{here}: '{module.floor}' has no floor")
            continue
        edges[module.name] = set()
        for found in own_imports(module, root.name, set(modules)):
            target_floor = found.target.split(".")[0] or "__init__"
            if found.hidden:
                faults.append(f"{here}:{found.line}: an import of '{found.target}' hides inside")
            elif module.floor != target_floor and (
                RANK.get(target_floor, len(FLOORS)) > RANK[module.floor]
            ):
                faults.append(
                    f"{here}:{found.line}: '{module.floor}' may not import '{found.target}'"
                )
            if module.name and found.target != module.name:
                edges[module.name].add(found.target)
    return faults + [f"a cycle: {' -> '.join(cycle)}" for cycle in cycles(edges)]


def cycles(edges: dict[str, set[str]]) -> list[list[str]]:
    """One ring of imports for each module that closes one in a depth-first walk."""
    found: list[list[str]] = []
    finished: set[str] = set()

    def visit(name: str, trail: list[str]) -> None:
        if name in trail:
            found.append([*trail[trail.index(name) :], name])
        elif name not in finished:
            for target in sorted(edges.get(name, ())):
                visit(target, [*trail, name])
            finished.add(name)

    for name in sorted(edges):
        visit(name, [])
    return found


def size_faults(root: Path) -> list[str]:
    """Every module and function that is too long, as a sentence."""
    faults = []
    for module in read_modules(root).values():
        here = f"{root.name}/{module.path.relative_to(root).as_posix()}"
        lines = len(module.text.splitlines())
        if lines > MOST_LINES_OF_A_MODULE:
            faults.append(f"{here}: {lines} lines, at most {MOST_LINES_OF_A_MODULE}")
        code_lines = lines_with_code(module.text)
        for node in ast.walk(module.tree):
            if isinstance(node, FunctionNode):
                length = function_length(node, code_lines)
                if length > MOST_CODE_LINES_OF_A_FUNCTION:
                    faults.append(
                        f"{here}:{node.lineno}: '{node.name}' has {length} lines of code, "
                        f"at most {MOST_CODE_LINES_OF_A_FUNCTION}"
                    )
    return faults


def lines_with_code(text: str) -> set[int]:
    """The numbers of the lines that hold more than blanks and comments."""
    empty = {
        tokenize.COMMENT,
        tokenize.NL,
        tokenize.NEWLINE,
        tokenize.INDENT,
        tokenize.DEDENT,
        tokenize.ENDMARKER,
    }
    return {
        line
        for token in tokenize.generate_tokens(io.StringIO(text).readline)
        if token.type not in empty
        for line in range(token.start[0], token.end[0] + 1)
    }


def function_length(node: FunctionNode, code_lines: set[int]) -> int:
    """Lines of code of a function, signature included, docstring left out."""
    lines = set(range(node.lineno, (node.end_lineno or node.lineno) + 1)) & code_lines
    if ast.get_docstring(node) is not None:
        docstring = node.body[0]
        lines -= set(range(docstring.lineno, (docstring.end_lineno or docstring.lineno) + 1))
    return len(lines)


def docstring_faults(root: Path) -> list[str]:
    """Every floor that is a folder and does not say what comes in, goes out, may be imported."""
    faults = []
    for module in read_modules(root).values():
        if module.is_package and module.name and "." not in module.name:
            sentences = len(re.findall(r"[.!?](?=\s|$)", ast.get_docstring(module.tree) or ""))
            if sentences < FEWEST_SENTENCES_OF_A_FLOOR:
                faults.append(
                    f"{root.name}/{module.name}/__init__.py: {sentences} sentences in its "
                    f"docstring, at least {FEWEST_SENTENCES_OF_A_FLOOR}"
                )
    return faults


def test_every_import_points_to_an_earlier_floor() -> None:
    """No import points down the list, none of our own hides in a function, none runs in a ring."""
    assert import_faults(ROOT) == []


def test_modules_and_functions_stay_short() -> None:
    """A reader can take in a module at one sitting and a function at one glance."""
    assert size_faults(ROOT) == []


def test_every_floor_introduces_itself() -> None:
    """Each floor says in three sentences what comes in, what goes out, what it may import."""
    assert docstring_faults(ROOT) == []


THREE_SENTENCES = '"""This comes in. That goes out. It may import the errors."""\n'


@pytest.fixture
def small_house(tmp_path: Path) -> Path:
    """A package of four floors without a fault."""
    files = {
        "__init__.py": "def __getattr__(name):\n    from farmcase import model\n    return model\n",
        "errors.py": "class Fault: ...\n",
        "crop/__init__.py": THREE_SENTENCES,
        "crop/harvest.py": "import numpy\nfrom farmcase.errors import Fault\n",
        "crop/cohorts.py": "from . import harvest\nfrom ..errors import Fault\n",
        "money/__init__.py": THREE_SENTENCES + "from farmcase.money.loan import level\n",
        "money/loan.py": "def level(): ...\n",
        "model.py": "from farmcase import errors, money\nimport farmcase.crop.cohorts as cohorts\n",
        "__main__.py": "import farmcase\nfrom farmcase.model import cohorts\n",
    }
    root = tmp_path / "farmcase"
    for name, text in files.items():
        write(root / name, text)
    return root


def write(path: Path, text: str) -> None:
    """Write a file and the folders above it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def test_a_sound_house_has_no_fault(small_house: Path) -> None:
    """The walker does not cry wolf: lazy door, relative and absolute imports are all fine."""
    faults = import_faults(small_house) + size_faults(small_house) + docstring_faults(small_house)
    assert faults == []


@pytest.mark.parametrize(
    ("name", "text", "fault"),
    [
        ("crop/harvest.py", "from farmcase.money import loan\n", "'crop' may not import"),
        ("crop/harvest.py", "from ..money.loan import level\n", "'crop' may not import"),
        ("crop/harvest.py", "import farmcase.model\n", "'crop' may not import 'model'"),
        ("crop/harvest.py", "import farmcase as fc\n", "'crop' may not import ''"),
        ("errors.py", "if True:\n    from farmcase.crop import harvest\n", "'errors' may not"),
        ("model.py", "def f():\n    from farmcase import errors\n", "'errors' hides inside"),
        ("model.py", "class A:\n    async def f(self):\n        from . import money\n", "hides"),
        ("model.py", "def f():\n    import_module('farmcase.errors')\n", "'errors' hides inside"),
        ("model.py", "def f():\n    importlib.import_module('.errors', 'x')\n", "hides inside"),
        ("model.py", "def f(name):\n    return import_module(name)\n", "hides inside"),
        ("model.py", "f = lambda: import_module('farmcase.errors')\n", "hides inside"),
        ("__init__.py", "def other():\n    from farmcase import model\n", "'model' hides inside"),
        ("crop/harvest.py", "from farmcase.crop import cohorts\n", "a cycle: crop.cohorts ->"),
        ("money/loan.py", "from farmcase.money import level\n", "a cycle: money -> money.loan"),
        ("units.py", "from farmcase import words\n", ""),
        ("helpers.py", "", "'helpers' has no floor"),
        ("money/loan.py", "#\n" * 301, "301 lines, at most 300"),
        ("money/loan.py", "def f():\n" + "    x = 1\n" * 50, "51 lines of code, at most 50"),
        ("money/__init__.py", '"""One. Two, 1.5 of it."""\n', "2 sentences"),
        ("money/__init__.py", "", "0 sentences"),
    ],
)
def test_a_planted_fault_is_found(small_house: Path, name: str, text: str, fault: str) -> None:
    """Each rule finds the fault that is planted against it (a downward import is often a ring)."""
    write(small_house / "words.py", "")
    write(small_house / name, text)
    faults = import_faults(small_house) + size_faults(small_house) + docstring_faults(small_house)
    assert bool(faults) == bool(fault)
    assert fault in "".join(faults)


def test_length_of_a_function_leaves_out_words(small_house: Path) -> None:
    """Docstring, comments and blank lines of a function are free; only its code counts."""
    words = '    """Long.\n' + "    line\n" * 40 + '    """\n' + "    # why\n\n" * 40
    write(small_house / "money" / "loan.py", "def f():\n" + words + "    x = 1\n" * 49)
    assert size_faults(small_house) == []
