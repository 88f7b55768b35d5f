"""`python -m tests.chaos [--kills N] [--checkins N] [--seconds S]`: kill the server at random, then count.

The full size: `python -m tests.chaos --kills 200 --checkins 1000000 --phones 2000 --seconds 1800`.
"""

from __future__ import annotations

import argparse
import sys

from tests.chaos.run import run


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.chaos")
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--checkins", type=int, default=20_000)
    parser.add_argument("--seconds", type=float, default=180, help="give up after this long, and fail")
    parser.add_argument("--phones", type=int, default=40)
    parser.add_argument("--workers", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--whole", type=float, default=1.0, help="share of kills that take the arbiter too")
    count = run(**vars(parser.parse_args(argv)))
    print(count.words(), flush=True)
    return 0 if count.good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
