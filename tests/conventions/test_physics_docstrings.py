"""The physics package states a unit for every number, one unit for every symbol, a source for every formula."""

import dataclasses
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import pullproof.physics

PAGE = Path(__file__).parents[2] / "docs" / "physics.md"
UNITS = {
    "1", "Pa", "K", "m", "m2", "m3", "s", "kg", "kg/s", "kg/m3", "m/s", "m/s2", "m2/s", "rad", "rad/s", "N", "N m",
    "N s/m", "N s2/m2", "W", "J/kg", "J/(kg K)", "Pa s", "1/K", "1/Pa",
}  # fmt: skip
NUMERIC = ("broadcastable", "any shape", "same shape", "broadcast shape", "float", "Array")
NO_NUMBER = ("str", "callable", "LossCoefficient", "BoostState", "ReferenceState")

MODULES = [
    importlib.import_module(f"pullproof.physics.{entry.name}")
    for entry in pkgutil.iter_modules(pullproof.physics.__path__)
]
PUBLIC = [
    pytest.param(getattr(module, name), id=f"{module.__name__.rpartition('.')[2]}.{name}")
    for module in MODULES
    for name in module.__all__
    if callable(getattr(module, name)) and inspect.getmodule(getattr(module, name)) is module
]
# Checks and solvers take numbers of any unit; they are plumbing of the floor, not formulas.
FORMULAS = [
    case
    for case in PUBLIC
    if case.id.partition(".")[0] not in ("domain", "elementwise") and case.values[0].__name__ != "fitting"
]


def sections(doc):
    """Docstring sections by title, each as a list of (head line, description)."""
    found, title = {}, None
    lines = inspect.cleandoc(doc).splitlines()
    for index, line in enumerate(lines):
        if index + 1 < len(lines) and lines[index + 1] and set(lines[index + 1]) == {"-"}:
            title = line.strip()
            found[title] = []
        elif title and line and set(line) != {"-"}:
            if line.startswith("Range:"):
                title = None
            elif not line.startswith(" "):
                found[title].append([line.strip(), ""])
            elif found[title]:
                found[title][-1][1] += " " + line.strip()
    return found


def unit_of(description):
    units = [unit for unit in re.findall(r"\[([^\]]+)\]", description) if unit in UNITS]
    return units[0] if len(set(units)) == 1 else None


def entries(function):
    """Name, kind and unit of every documented number that goes in."""
    doc = sections(function.__doc__ or "")
    for head, description in doc.get("Parameters", []) + doc.get("Attributes", []):
        names, _, kind = (part.strip() for part in head.partition(" : "))
        for name in names.split(", "):
            yield name, kind, description


@pytest.mark.parametrize("function", FORMULAS)
def test_every_number_has_a_unit(function):
    """Each numeric parameter or attribute names exactly one unit of the list, in square brackets."""
    for name, kind, description in entries(function):
        if kind.startswith(NO_NUMBER) or name in ("value", "reason", "within_limits", "reference"):
            continue
        assert kind.startswith(NUMERIC), f"{name}: kind {kind!r} is not one that this check knows"
        assert unit_of(description), f"{name}: no unit, or more than one, in {description!r}"


@pytest.mark.parametrize("function", FORMULAS)
def test_documentation_names_the_parameters_there_are(function):
    """Signature and docstring list the same names."""
    documented = [name for name, _, _ in entries(function)]
    if dataclasses.is_dataclass(function):
        assert sorted(documented) == sorted(field.name for field in dataclasses.fields(function))
    else:
        assert documented == list(inspect.signature(function).parameters)


@pytest.mark.parametrize("function", [case for case in FORMULAS if inspect.isfunction(case.values[0])])
def test_every_formula_has_range_source_and_errors(function):
    """Each function says what comes back in which unit, where it holds, and where it comes from."""
    doc = inspect.cleandoc(function.__doc__)
    assert re.search(r"^Range: ", doc, re.MULTILINE)
    assert re.search(r"^Source: ", doc, re.MULTILINE)
    head, description = sections(doc)["Returns"][0]
    assert head[0].isupper() or unit_of(description), f"returned {head}: no unit in {description!r}"
    if "raise ValueError" in inspect.getsource(function):
        assert "Raises" in sections(doc)


def symbols():
    """Every symbol of the package with the set of its units and where it occurs."""
    table = {}
    for case in FORMULAS:
        for name, kind, description in entries(case.values[0]):
            # A result or a loss coefficient has the unit of whatever it holds.
            if not kind.startswith(NO_NUMBER) and name not in ("value", "reason", "within_limits", "reference"):
                if inspect.isclass(case.values[0]) and "Sensitivities" in case.values[0].__name__:
                    continue
                table.setdefault(name, set()).add(unit_of(description))
    return table


def test_one_symbol_has_one_unit():
    """No symbol changes its unit from one module to the next."""
    assert {name: units for name, units in symbols().items() if len(units) != 1} == {}


def test_page_lists_every_symbol():
    """The table of symbols in docs/physics.md is complete and right."""
    table = PAGE.read_text(encoding="utf-8").partition("## Symbols")[2]
    rows = dict(re.findall(r"^\| `(\w+)` \| ([^|]+?) \|", table, re.MULTILINE))
    assert rows == {name: next(iter(units)) for name, units in symbols().items()}


def test_page_lists_every_source():
    """Every key that a docstring cites stands in the bibliography, and nothing else does."""
    page = PAGE.read_text(encoding="utf-8")
    listed = set(re.findall(r"^- \*\*\[([^\]]+)\]\*\*", page, re.MULTILINE))
    cited = set()
    for module in MODULES:
        for key in re.findall(r"\[([A-Z][^\]\n]*)\]", inspect.getsource(module)):
            if key not in UNITS and not re.search(r'["(]|Numbers|float|Array|np\.', key):
                cited.add(key)
    assert cited == listed
