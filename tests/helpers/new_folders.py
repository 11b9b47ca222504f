"""A keeper's new folder with twelve invented counts in it, for several tests."""

from __future__ import annotations

from pathlib import Path

from antgrowth.cli import main

TWELVE = """\
2026-07-14,first,,,,
2026-07-20,9,,,,
2026-07-29,14,first,,,
2026-08-08,8,9,,,
2026-08-15,~10,8,first,,
2026-08-24,5-10,,9,,
2026-08-31,,3,12,,
2026-09-06,9,,10,first,
2026-09-12,12,3,,7,
2026-09-20,,,4,12,
2026-09-29,20,,,~13,
2026-10-08,22,6,,15,the water is clear
"""
PLANS = """
[[nests]]
name = "tube"
workers = 25
[outdoors]
normals_c = [1, 2, 5, 9, 14, 17, 19, 18, 15, 10, 5, 2]
workers = 40
"""


def made(
    folder: Path, species: str = "lasius-niger", rows: str = TWELVE, plans: str = PLANS
) -> Path:
    arguments = ["new", str(folder), "--species", species, "--queen-since", "2026-07-04"]
    assert main([*arguments, "--country", "DE"]) == 0
    with (folder / "counts.csv").open("a", encoding="utf-8") as file:
        file.write(rows)
    with (folder / "colony.toml").open("a", encoding="utf-8") as file:
        file.write(plans)
    return folder
