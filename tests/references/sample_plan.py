"""Does any sample of any motion of a plan lie under the clearance that `trusswalk check` proves for it?

Runs the program: `check --format json`, then `poses` for every motion, at evenly spread moments and at each moment that a
finding reports, and hands both to motion_sampling.py.

    python sample_plan.py TRUSSWALK [PLAN] [--moments N]

Exits with 1 where a motion's findings are refuted, with 2 where a motion has none to compare.
"""

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import motion_sampling

# `check` exits with 1 where a limit is violated: its findings are as good to compare.
FINDINGS_WRITTEN = (0, 1)


def reported_moments(findings, motion):
    """`segment:fraction` of each clearance finding of a motion."""
    of_motion = [finding for finding in findings if finding["where"].get("motion") == motion and finding["at"]]
    return [f"{finding['at']['segment']}:{finding['at']['fraction']!r}" for finding in of_motion]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("plan", nargs="?")
    parser.add_argument("--moments", type=int, default=200)
    wanted = parser.parse_args()
    plan = [wanted.plan] if wanted.plan else []

    check = subprocess.run([wanted.program, "check", *plan, "--format", "json"], capture_output=True)
    if check.returncode not in FINDINGS_WRITTEN:
        raise SystemExit(check.stderr.decode())
    report = json.loads(check.stdout)
    worst = 0
    with tempfile.TemporaryDirectory() as folder:
        for motion in (motion["id"] for motion in report["motions"] if motion["not_checked"] is None):
            of_motion = [
                finding
                for finding in report["findings"]
                if finding["check"] == "clearance" and finding["where"].get("motion") == motion and finding["at"]
            ]
            moments = ["--moments", str(wanted.moments)]
            for at in reported_moments(of_motion, motion):
                moments += ["--at", at]
            poses = subprocess.run([wanted.program, "poses", *plan, motion, *moments], capture_output=True, check=True)
            findings_file, poses_file = Path(folder, "findings.json"), Path(folder, "poses.jsonl")
            findings_file.write_text(json.dumps({**report, "findings": of_motion}))
            poses_file.write_bytes(poses.stdout)
            outcome = motion_sampling.main(str(findings_file), str(poses_file))
            print(f"{motion}: {'as proven' if outcome == 0 else 'REFUTED or not compared'}", flush=True)
            worst = max(worst, outcome)
    return worst


if __name__ == "__main__":
    sys.exit(main())
