"""Does any sample of a transit that `trusswalk propose` found lie under the clearance that `trusswalk check` proves for it?

Has the waypoints of every transit of a plan proposed, one transit after the other, each on the plan that holds those
before it; then samples the transits of the last plan as sample_plan.py does.

    python sample_proposals.py TRUSSWALK [PLAN] [--moments N]

Exits with 1 where a transit is refuted or not found, with 2 where one has no finding to compare.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from sample_plan import arguments, checked, sampled


def is_transit(motion):
    return motion.endswith("/transit")


def main():
    program, plan, moments = arguments(__doc__.splitlines()[0])
    steps = [
        motion["id"].removesuffix("/transit")
        for motion in checked(program, plan)["motions"]
        if is_transit(motion["id"])
    ]
    if not steps:
        print("the plan has no transit", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as folder:
        for step in steps:
            out = str(Path(folder, step))
            done = subprocess.run([program, "propose", *plan, "--only", step, "--out", out], capture_output=True)
            if done.returncode != 0:
                print(f"{step}: no transit was proposed: {done.stderr.decode()}", file=sys.stderr)
                return 1
            plan = [out]
        return sampled(program, plan, moments, is_transit)


if __name__ == "__main__":
    sys.exit(main())
