"""Write the demo shop: 18 months and 120 builds of an engine machine shop that never was.

python datasets/demo/generate.py --seed 11 --out DIR [--truth FILE]
"""

import argparse
import json
import sys
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:  # also when a test loads this file by its path
    sys.path.insert(0, str(HERE))

from demo_files import all_files  # noqa: E402 - only found once this folder is on the path
from demo_parts import readings  # noqa: E402
from demo_schedule import plan  # noqa: E402
from demo_truth import truth_of  # noqa: E402

SEED = 11


@dataclass(frozen=True, slots=True)
class Shop:
    """The files of one seed by name, and what is hidden in them."""

    seed: int
    files: dict[str, bytes]
    truth: dict

    def write(self, folder: str | Path) -> list[Path]:
        """Write every file into a folder, made when absent; return the paths."""
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        paths = [folder / name for name in self.files]
        for path, content in zip(paths, self.files.values(), strict=True):
            path.write_bytes(content)
        return paths

    def truth_text(self) -> str:
        """Return the truth as a JSON document."""
        return json.dumps(self.truth, indent=1, sort_keys=True) + "\n"


def simulate(seed: int = SEED) -> Shop:
    """Return the shop of a seed; the same seed gives the same bytes.

    Source: invented for the demo.
    """
    planned = plan(seed)
    benches = [readings(build, seed) for build in planned.builds]
    return Shop(seed, all_files(planned, benches, seed), truth_of(seed, planned, benches))


def main() -> None:
    """Write the files and the truth of one seed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path, default=HERE / "files")
    parser.add_argument("--truth", type=Path)
    asked = parser.parse_args()
    shop = simulate(asked.seed)
    shop.write(asked.out)
    shipped = asked.out.resolve() == HERE / "files"
    truth = asked.truth or (HERE / "truth.json" if shipped else None)
    if truth:
        truth.write_text(shop.truth_text(), encoding="utf-8", newline="\n")
    size = sum(len(content) for content in shop.files.values())
    print(
        f"seed {shop.seed}: {len(shop.files)} files, {size / 1e6:.1f} MB, {shop.truth['readings']} readings"
    )


if __name__ == "__main__":
    main()
