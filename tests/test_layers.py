"""Imports only point to rooms before one's own, in the order of the job.

`ORDER` is the one table of the package's structure. Every import counts: one that waits inside a
function and one for type checkers alone ties two rooms together as well. What still points the
wrong way stands in `UPWARD`, to be taken out one by one; nothing is added to it.
"""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

import antgrowth

PACKAGE = Path(antgrowth.__file__).parent

ORDER: tuple[set[str], ...] = (
    {"errors", "_aliases"},
    {"_core"},
    {"model"},
    {"io"},
    {"species"},
    {"climate"},
    {"inference"},
    {"forecast"},
    {"food", "evaluation"},
    {"_api"},
    {"plotting"},
    {"regimes", "care"},
    {"colony"},
    {"__init__"},
    {"cli"},
    {"__main__"},
)
"""Rooms and single modules, each after all that it may import; those side by side import neither
from the other."""

UPWARD: dict[str, set[str]] = {"forecast.paths": {"food.plan", "food.planner"}}
"""Imports that point the wrong way, by module."""


def place(module: str) -> int:
    """Where the room of a module stands in the order."""
    for number, rooms in enumerate(ORDER):
        if room(module) in rooms:
            return number
    raise AssertionError(f"{module} is in no room: enter it in ORDER of {Path(__file__).name}.")


def room(module: str) -> str:
    return module.partition(".")[0]


def points_up(module: str, imported: str) -> bool:
    """Whether an import leads to a later room, or to one side by side."""
    return room(module) != room(imported) and place(imported) >= place(module)


def imports(path: Path) -> set[str]:
    """Modules of the package that a file imports, at once, late or for type checkers."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {name for node in ast.walk(tree) for name in imported(node)}


def imported(node: ast.AST) -> list[str]:
    """Modules of the package, without its name, that a statement imports."""
    names: list[str] = []
    if isinstance(node, ast.Import):
        names = [alias.name for alias in node.names]
    elif isinstance(node, ast.ImportFrom):
        assert node.level == 0, "imports are absolute"
        of = node.module or ""
        # `from antgrowth.food import energetics` imports a module, not a name of the room.
        inner = [f"{of}.{alias.name}" for alias in node.names]
        names = [name if name.partition(".")[2] in KNOWN else of for name in inner]
    own = [name for name in names if name.split(".")[0] == "antgrowth"]
    return [name.partition(".")[2] or "__init__" for name in dict.fromkeys(own)]


def module_file(name: str) -> Path:
    return next(path for path in MODULES if name_of(path) == name)


def name_of(path: Path) -> str:
    """Dotted name of a module, without the package's: `climate.base`; a room is `climate`."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)


MODULES = sorted(PACKAGE.rglob("*.py"))
KNOWN = set(map(name_of, MODULES))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_point_to_earlier_rooms(path):
    module = name_of(path)
    upward = {name for name in imports(path) if points_up(module, name)}
    assert upward == UPWARD.get(module, set())


def circles() -> list[list[str]]:
    """Modules that import one another, directly or by others; the largest circle first."""
    names = sorted(KNOWN)
    ties = np.zeros((len(names), len(names)), bool)
    for path in MODULES:
        for name in imports(path) & KNOWN:
            ties[names.index(name_of(path)), names.index(name)] = True
    number, labels = connected_components(csr_array(ties), connection="strong")
    groups = [[names[k] for k in np.flatnonzero(labels == label)] for label in range(number)]
    return sorted((group for group in groups if len(group) > 1), key=len, reverse=True)


def test_few_modules_stand_in_circles():
    sizes = list(map(len, circles()))
    assert len(sizes) <= 3 and max(sizes, default=0) <= 12, circles()


def test_the_order_names_what_is_there():
    rooms = set.union(*ORDER)
    assert rooms == {room(name) for name in KNOWN}
    assert sum(map(len, ORDER)) == len(rooms), "a room stands in two places"
    assert set(UPWARD) <= KNOWN and all(UPWARD.values())


def test_rooms_import_modules_and_no_doors():
    # A room's own door, `antgrowth/food/__init__.py`, is for users; inside, a name has one home.
    doors = {name for name in KNOWN if (PACKAGE / name).is_dir()}
    found = {(name_of(path), name) for path in MODULES for name in imports(path) & doors}
    assert not found


def test_what_a_module_keeps_to_itself_is_imported_nowhere():
    # An underscore is how a module says so: a list of its names is for doors alone.
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {alias.name for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)
                 for alias in n.names if (n.module or "").startswith("antgrowth")}  # fmt: skip
        own = {name for name in names if name.startswith("_") and name not in KNOWN}
        assert own <= {"__version__"}, path
        assert path.name in ("__init__.py", "plotting.py") or not assigned(tree, "__all__"), path


def assigned(tree: ast.Module, name: str) -> bool:
    targets = [target for n in tree.body if isinstance(n, ast.Assign) for target in n.targets]
    return name in {getattr(target, "id", "") for target in targets}


def pictures(path: Path) -> list[tuple[str, str, str]]:
    """Room, function and module of each picture that a file loads late."""
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    calls = [n for n in nodes if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "picture"]
    found = []
    for call in calls:
        own, name = map(ast.literal_eval, call.args[:2])
        module = [ast.literal_eval(key.value) for key in call.keywords if key.arg == "module"]
        found.append((own, name, (*module, "plots")[0]))
    return found


def test_pictures_are_those_of_the_own_room():
    found = [(path, *names) for path in MODULES for names in pictures(path)]
    assert len(found) > 8
    for path, own, name, module in found:
        assert own == room(name_of(path)) or name_of(path) == "_api"  # the verbs of a fit
        drawn = PACKAGE / own / f"{module}.py"
        plots = ast.parse(drawn.read_text(encoding="utf-8"))
        assert name in {node.name for node in plots.body if isinstance(node, ast.FunctionDef)}


def test_an_upward_import_is_seen(tmp_path):
    # The walk itself, on a file that does everything wrong.
    path = tmp_path / "development_rates.py"
    path.write_text(
        "from typing import TYPE_CHECKING\n"
        "from antgrowth.inference import posterior as p\n"
        "import antgrowth.cli\n"
        "if TYPE_CHECKING:\n    from antgrowth.species.profile import Species\n"
        "def late():\n    from antgrowth.plotting import plot_fit\n",
        encoding="utf-8",
    )
    assert imports(path) == {"inference.posterior", "cli", "species.profile", "plotting"}
    assert all(points_up("model.development_rates", name) for name in imports(path))
    assert points_up("food.plan", "evaluation.scoring")
    assert points_up("evaluation.scoring", "food.plan")
    assert not points_up("food.plan", "food.energetics")
    assert not points_up("food.plan", "errors")
    with pytest.raises(AssertionError, match="in no room"):
        place("something_new")


ARRAYS = [name for name in KNOWN if name.startswith("model.")] + [
    "inference.likelihood", "evaluation.scoring", "food.energetics", "food.constants",
    "climate.humidity", "climate.degree_days",
]  # fmt: skip


@pytest.mark.parametrize("name", sorted(ARRAYS))
def test_arrays_know_no_tables(name):
    # Numpy in, numpy out: no pandas, no picture.
    roots = set()
    for node in ast.walk(ast.parse(module_file(name).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            roots.add((node.module or "").split(".")[0])
    assert not roots & {"pandas", "matplotlib", "IPython"}
