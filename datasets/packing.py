"""How the package is built: `datasets` and `notebooks` go into it, though they lie beside it.

They stand at the top of the repository for readers. A wheel holds them as `antgrowth.datasets` and
`antgrowth.notebooks`; in a clone `antgrowth._aliases` finds them where they lie. setuptools can
look for packages or have some elsewhere, not both, so the two are added here.
"""

from __future__ import annotations

from setuptools.command.build_py import build_py

__all__ = ["BuildPy"]

BESIDE = ("datasets", "notebooks")


class BuildPy(build_py):
    """Copies the folders beside the package as well."""

    def finalize_options(self) -> None:
        """Add them to the packages that were found."""
        super().finalize_options()
        beside = {f"antgrowth.{name}": name for name in BESIDE}
        self.packages = [*(self.packages or ()), *beside]
        self.package_dir = {**(self.package_dir or {}), **beside}
