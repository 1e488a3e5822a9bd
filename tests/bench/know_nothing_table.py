"""What papers of somebody who knows nothing earn in every ready-made exercise, in per cent, the most of two labs.

python tests/bench/know_nothing_table.py
"""

import sys
from pathlib import Path

sys.path += [str(Path(__file__).parents[1] / folder) for folder in ("lab", "marking")]
from know_nothing import PAPERS, labs, percent


def main() -> None:
    print(f"{'':<20}" + "".join(f"{paper:>19}" for paper in PAPERS))
    for exercise, of_it in labs().items():
        cells = (max(percent(lab, paper) for lab in of_it) for paper in PAPERS)
        print(f"{exercise:<20}" + "".join(f"{cell:>19}" for cell in cells))


if __name__ == "__main__":
    main()
