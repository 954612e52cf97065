"""Write the three sample programs anew: ``python -m sample_programs.generator``."""

from __future__ import annotations

from pathlib import Path

from sample_programs.generator.catalogue import TOWNS
from sample_programs.generator.folders import write_town


def main() -> None:
    """Write every town's folder beside the generator."""
    home = Path(__file__).resolve().parent.parent
    for town in TOWNS.values():
        paths = write_town(town, home / town.folder, town.seed)
        size_kb = sum(path.stat().st_size for path in paths) / 1000
        print(f"{town.folder}: {len(paths)} files, {size_kb:.0f} kB")


if __name__ == "__main__":
    main()
