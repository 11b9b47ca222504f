"""Where else a module is found: under the path it had before, and in a clone, beside the package.

A keeper's notebook that imports `antgrowth.rates` gets the module that is now
`antgrowth.model.development_rates`, the very same. New code imports from the rooms. In an installed
package `datasets` and `notebooks` lie within it; in a clone they lie beside it, for readers.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from importlib import import_module
from importlib.machinery import ModuleSpec
from os import path as paths
from types import ModuleType

TYPE_CHECKING = False
"""As in `antgrowth`: little is loaded here, since it comes before everything."""

if TYPE_CHECKING:
    from importlib.abc import Loader, MetaPathFinder
else:
    # To load those takes longer than all the rest, and they add nothing that is needed.
    MetaPathFinder, Loader = (type(name, (), {}) for name in ("MetaPathFinder", "Loader"))

MOVED = {
    "alerts": "evaluation.alerts",
    "arrival": "forecast.arrival",
    "audit": "climate.audit",
    "backtest": "evaluation.backtest",
    "changes": "io.changes",
    "cohorts": "model.mean_field",
    "counts": "io.counts",
    "curve_fit": "species.rate_fit",
    "degree_days": "climate.degree_days",
    "diagnostics": "evaluation.diagnostics",
    "energetics": "food.energetics",
    "ensemble": "model.simulation",
    "feeds": "food.feed_log",
    "fit": "_api",
    "growing": "forecast.growth_rate",
    "hindsight": "inference.smoothing",
    "humidity": "climate.humidity",
    "laws": "model.parameters",
    "likelihood": "inference.likelihood",
    "losses": "inference.brood_loss",
    "lotka": "model.euler_lotka",
    "luck": "model.common_random_numbers",
    "moments": "model.covariance",
    "nest": "care.nest_room",
    "notes": "inference.observations",
    "outdoors": "care.outdoors",
    "placing": "inference.species_rank",
    "present": "inference.initial_state",
    "prior": "inference.prior",
    "profile_table": "species.from_table",
    "rates": "model.development_rates",
    "regime_search": "regimes.search",
    "report": "colony.report",
    "saving": "_api",
    "scoring": "evaluation.scoring",
    "sensitivity": "forecast.sensitivity",
    "setting": "inference.history",
    "stages": "_core.stages",
    "temperature": "climate.temperature",
}
"""Paths of modules within the package, old to new; rooms that have an old name have its names."""

BESIDE = ("datasets", "notebooks")
"""Folders of a clone that belong to the package."""

HOME = paths.dirname(__file__)


class Elsewhere(MetaPathFinder, Loader):
    """Finds what `MOVED` and `BESIDE` name."""

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Look a name up; None if it is not of the two."""
        package, _, name = fullname.partition(".")
        if package != "antgrowth":
            return None
        if name in MOVED:
            return ModuleSpec(fullname, self)
        folder = paths.join(paths.dirname(HOME), name)
        inside = paths.exists(paths.join(HOME, name))
        if name in BESIDE and not inside and paths.exists(folder):
            from importlib.util import spec_from_file_location

            return spec_from_file_location(
                fullname, paths.join(folder, "__init__.py"), submodule_search_locations=[folder]
            )
        return None

    def create_module(self, spec: ModuleSpec) -> ModuleType | None:
        """Leave it to Python: what it makes stands in until the module is there."""
        return None

    def exec_module(self, module: ModuleType) -> None:
        """Put the module itself in place of its stand-in."""
        name = module.__name__
        sys.modules[name] = import_module(f"antgrowth.{MOVED[name.partition('.')[2]]}")


class Package(ModuleType):
    """The package, whose functions are not hidden by modules of their name.

    Python hangs each module that it finds into its package: after `import antgrowth.fit` the name
    `antgrowth.fit` would be the module. It stays the function.
    """

    PUBLIC: Mapping[str, str]

    def __setattr__(self, name: str, value: object) -> None:
        """Take all but a module by the name of a public function."""
        if not (isinstance(value, ModuleType) and name in self.PUBLIC):
            super().__setattr__(name, value)


def install() -> None:
    """Find modules by their old paths from now on."""
    # Before other finders, so that a clone never reads the tables of another that is installed.
    sys.meta_path.insert(0, Elsewhere())
