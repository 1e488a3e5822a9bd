"""What papers of somebody who knows nothing earn in every ready-made exercise, in per cent; of two labs the most.

python tests/bench/know_nothing_table.py
"""

import sys
from pathlib import Path

sys.path += [str(Path(__file__).parents[1] / folder) for folder in ("lab", "marking")]
from know_nothing import EXERCISES, PAPERS, most


def main() -> None:
    print(f"{'':<20}" + "".join(f"{paper:>19}" for paper in PAPERS))
    for exercise in EXERCISES:
        print(f"{exercise:<20}" + "".join(f"{most(exercise, paper):>19}" for paper in PAPERS))


if __name__ == "__main__":
    main()
