"""What is public is documented, and the shape of the project is what it says it is.

The layers themselves are proved by import-linter in the test run; its contracts stand in pyproject.toml.
"""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from monitor.alerts.rules import RULES
from monitor.records import Severity

ROOT = Path(__file__).parents[1]
PACKAGES = ("monitor", "web", "simulators")
MODULES = sorted(file for package in PACKAGES for file in (ROOT / package).rglob("*.py"))


def test_the_readme_lists_every_rule_and_grade() -> None:
    """The closed lists of the report."""
    readme = (ROOT / "README.md").read_text("utf-8")
    names = [*RULES, *(grade.value for grade in Severity)]

    assert [name for name in names if f"`{name}`" not in readme] == []


def test_nobody_imports_through_a_facade() -> None:
    """A package's own `__init__` holds its docstring, at most the version beside it, and no import."""
    facades = [file for file in MODULES if file.name == "__init__.py"]
    full = [
        str(file.relative_to(ROOT))
        for file in facades
        if [
            node
            for node in ast.parse(file.read_text("utf-8")).body
            if not isinstance(node, ast.Expr | ast.Assign)
        ]
    ]

    assert len(facades) >= len(PACKAGES)
    assert full == []


@pytest.mark.parametrize("module", MODULES, ids=lambda file: str(file.relative_to(ROOT)))
def test_every_module_says_what_it_is(module: Path) -> None:
    assert ast.get_docstring(ast.parse(module.read_text("utf-8")))


# Arithmetic is handed the time: a clock read in here would be a second truth.
PURE = ("estimation", "wire", "words", "alerts", "routing", "pipeline")


@pytest.mark.parametrize("package", PURE)
def test_arithmetic_never_asks_what_time_it_is(package: str) -> None:
    asking = re.compile(r"\btime\.(time|monotonic|clock_gettime)\b|datetime\.now|\bdate\.today|utcnow")
    files = sorted((ROOT / "monitor" / package).rglob("*.py"))
    text = {str(file.relative_to(ROOT)): file.read_text("utf-8") for file in files}

    assert files
    assert [name for name, source in text.items() if asking.search(source)] == []


def test_nothing_is_fetched_from_outside() -> None:
    """No page, style or script names another machine; namespaces and comments of licences may."""
    served = [*(ROOT / "web").rglob("*.html"), *(ROOT / "web" / "static").rglob("*.css")]
    outside = re.compile(r"""(?:src|href|url)\s*[=(]\s*["']?\s*(?:https?:)?//""")

    assert served
    assert [str(f) for f in served if outside.search(f.read_text("utf-8"))] == []


def _imported() -> set[str]:
    """The top-level modules that the packages import, ours and the standard library's left out."""
    found = set()
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                found.add(str(node.module).split(".")[0])
    return found - set(sys.stdlib_module_names) - set(PACKAGES)


def test_every_import_is_a_declared_dependency() -> None:
    """What the tests' own environment happens to have is not there on a boat's computer."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    declared = {
        re.split(r"[\[<>=~ ]", line)[0].lower()
        for line in (*project["dependencies"], *project["optional-dependencies"]["demo"])
    }
    brings = packages_distributions()

    assert _imported() >= {"fastapi", "numpy", "can"}
    for module in sorted(_imported()):
        assert {name.lower() for name in brings[module]} & declared, module
