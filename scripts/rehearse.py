"""Run one drill by name: a module in scripts/drills/ with `main(arguments)`."""

import sys

from measurements import BENCHMARKS, run

DRILLS = BENCHMARKS.parent / "drills"

if __name__ == "__main__":
    sys.exit(run(sys.argv[1:], DRILLS, "drill"))
