"""Write the reference of the package as HTML: `python .ci/reference.py`, into `build/reference`.

The order is that of `help(antgrowth)`, and the words are those of the docstrings: nothing is
written twice. A name that `help` does not tell of, or a docstring that cannot be read, fails.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import antgrowth
from antgrowth import plotting

ROOT = Path(__file__).resolve().parents[1]

SETTINGS = {
    "extensions": ["sphinx.ext.autodoc", "sphinx.ext.autosummary", "numpydoc"],
    "project": "antgrowth",
    "copyright": "2026 the antgrowth developers",
    "version": antgrowth.__version__,
    "default_role": "py:obj",  # a name in backticks leads to its page
    "autosummary_generate": True,
    "autodoc_typehints": "none",  # Parameters tell them
    "numpydoc_show_class_members": True,
    "numpydoc_class_members_toctree": False,
    "numpydoc_show_inherited_class_members": True,
    "html_theme": "alabaster",
    "html_theme_options": {
        "description": "growth models for a keeper's ant colony",
        "page_width": "1100px",
    },
    "toc_object_entries": False,
    "html_show_sourcelink": False,
}

SKIP = """
def setup(app):
    from antgrowth._core.deprecation import Former

    app.connect("autodoc-skip-member", lambda *told: isinstance(told[3], Former) or None)
"""
"""Former names of attributes are not shown."""

CLASS = """{{ fullname | escape | underline }}

.. currentmodule:: {{ module }}

.. autoclass:: {{ objname }}
   :members:
   :inherited-members: Mapping, Sequence, tuple, Exception
"""


def sections() -> list[tuple[str, list[str]]]:
    """Headings of `help(antgrowth)` and the names told below each, every one of them once."""
    text = (antgrowth.__doc__ or "").partition("Examples\n---")[0]
    told: set[str] = set()
    found = []
    for heading, words in re.findall(r"^(\S.*)\n((?: {4}.*\n)+)", text, re.MULTILINE):
        names = [n for n in re.findall(r"(?<!`)`(\w+)`(?!`)", words) if n not in told]
        told.update(names)
        found.append((heading, names))
    missing = set(antgrowth.__all__) - told
    if missing:
        raise SystemExit(f"help(antgrowth) does not tell of {sorted(missing)}.")
    return found


def pages() -> str:
    """The first page, with a table of names for each step of the job."""
    lines = ["antgrowth", "=========", "", ".. automodule:: antgrowth", "   :no-members:", ""]
    for heading, names in sections():
        own = [name for name in names if name != "plotting"]
        if "plotting" in names:
            own += [f"plotting.{name}" for name in plotting.__all__]
        lines += [heading, "-" * len(heading), "", ".. autosummary::", "   :toctree: names", ""]
        lines += [f"   {name}" for name in own] + [""]
    return "\n".join(lines)


def write(folder: Path) -> int:
    """Write the pages to a folder; 0 if Sphinx has nothing to object."""
    from sphinx.cmd.build import main

    source = folder / "source"
    templates = source / "templates" / "autosummary"
    templates.mkdir(parents=True, exist_ok=True)
    (templates / "class.rst").write_text(CLASS, encoding="utf-8")
    # `fit` and `Fit` are one file where names of files know no capitals.
    classes = {name.lower() for name in antgrowth.__all__ if name[0].isupper()}
    twins = {f"antgrowth.{n}": f"antgrowth.{n}-function" for n in classes & {*antgrowth.__all__}}
    settings = SETTINGS | {"templates_path": ["templates"], "autosummary_filename_map": twins}
    told = "\n".join(f"{name} = {value!r}" for name, value in settings.items())
    (source / "conf.py").write_text(f"{told}\n{SKIP}", encoding="utf-8")
    (source / "index.rst").write_text(pages(), encoding="utf-8")
    return main(["-q", "-W", "--keep-going", "-E", str(source), str(folder / "html")])


if __name__ == "__main__":
    os.environ.setdefault("MPLBACKEND", "Agg")
    sys.exit(write(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "build" / "reference"))
