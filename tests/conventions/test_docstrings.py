"""The core's documentation agrees with its signatures."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conventions.source import PACKAGE, named, python_files, tree_of

CORE = PACKAGE / "core"
FILES = list(python_files(CORE))


def public_functions(path: Path) -> Iterator[ast.FunctionDef]:
    """Functions that begin without an underscore, at the top of a module."""
    for node in tree_of(path).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def parameters_of(node: ast.FunctionDef) -> list[str]:
    """The names in a signature, in order."""
    arguments = node.args
    found = [*arguments.posonlyargs, *arguments.args]
    found += [arguments.vararg] if arguments.vararg else []
    found += arguments.kwonlyargs
    found += [arguments.kwarg] if arguments.kwarg else []
    return [argument.arg for argument in found]


def documented(docstring: str) -> list[str] | None:
    """The names in a docstring's Parameters section, in order; None without the section."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", docstring, re.S | re.M)
    if section is None:
        return None
    names: list[str] = []
    for line in section[1].splitlines():
        if line and not line.startswith(" "):
            names += [name.strip(" *") for name in line.split(":")[0].split(",")]
    return names


def is_handed_out(name: str, *, path: Path) -> bool:
    """Whether a name leaves its package: by `__all__`; a lone module hides nothing."""
    return path.parent == CORE or name in exported(path.parent / "__init__.py")


def exported(path: Path) -> set[str]:
    """The names in a package's `__all__`."""
    for node in tree_of(path).body:
        if isinstance(node, ast.Assign) and any(
            isinstance(target, ast.Name) and target.id == "__all__" for target in node.targets
        ):
            return set(ast.literal_eval(node.value))
    return set()


@pytest.mark.parametrize("path", FILES, ids=named)
def test_documented_parameters_are_the_signature_s(path: Path) -> None:
    for node in public_functions(path):
        names = documented(ast.get_docstring(node) or "")
        if names is not None:
            assert names == parameters_of(node), f"{named(path)}: {node.name}"


@pytest.mark.parametrize("path", FILES, ids=named)
def test_public_functions_say_what_they_return(path: Path) -> None:
    for node in public_functions(path):
        first_line = (ast.get_docstring(node) or "").split("\n")[0]
        assert first_line.endswith("."), f"{named(path)}: {node.name}"


@pytest.mark.parametrize("path", FILES, ids=named)
def test_what_the_core_hands_out_documents_its_parameters(path: Path) -> None:
    """A function with one argument may say all in its sentence; one with more may not."""
    for node in public_functions(path):
        if is_handed_out(node.name, path=path):
            names = documented(ast.get_docstring(node) or "")
            if len(parameters_of(node)) > 1:
                assert names is not None, f"{named(path)}: {node.name} documents no parameters"


@pytest.mark.parametrize("path", FILES, ids=named)
def test_arguments_from_the_second_on_are_named(path: Path) -> None:
    for node in public_functions(path):
        if is_handed_out(node.name, path=path):
            by_position = len(node.args.posonlyargs) + len(node.args.args)
            assert by_position <= 1, f"{named(path)}: {node.name}"


@pytest.mark.parametrize("path", FILES, ids=named)
def test_values_are_frozen_and_built_by_name(path: Path) -> None:
    for node in tree_of(path).body:
        if not isinstance(node, ast.ClassDef) or not is_handed_out(node.name, path=path):
            continue
        for decorator in node.decorator_list:
            text = ast.unparse(decorator)
            if text.startswith("dataclass"):
                assert "frozen=True" in text, f"{named(path)}: {node.name}"
                assert "kw_only=True" in text, f"{named(path)}: {node.name}"
