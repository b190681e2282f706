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


def segments_of(finding, near_worksite):
    """The segments on which a finding's limit holds: a pair has one bracket near a worksite and one away from it."""
    subject = finding["subject"]
    if "(carried as one piece)" in subject:
        return set(range(len(near_worksite)))
    wanted = "(near or at work)" in subject
    return {number for number, near in enumerate(near_worksite) if near == wanted}


def on_segments(lines, segments):
    """The lines of poses that belong to these segments, and the line of the bodies."""
    return [line for line in lines if '"kind":"bodies"' in line or json.loads(line)["segment"] in segments]


def reported_moments(findings, motion):
    """`segment:fraction` of each clearance finding of a motion."""
    of_motion = [finding for finding in findings if finding["where"].get("motion") == motion and finding["at"]]
    return [f"{finding['at']['segment']}:{finding['at']['fraction']!r}" for finding in of_motion]


def checked(program, plan):
    """The report of `check --format json`; `plan` is a list of no or one argument."""
    check = subprocess.run([program, "check", *plan, "--format", "json"], capture_output=True)
    if check.returncode not in FINDINGS_WRITTEN:
        raise SystemExit(check.stderr.decode())
    return json.loads(check.stdout)


def sampled(program, plan, count, wanted=lambda motion: True):
    """The worst outcome of the motions of a plan that are wanted: 0 as proven, 1 refuted, 2 not compared."""
    report = checked(program, plan)
    worst = 0
    with tempfile.TemporaryDirectory() as folder:
        for summary in report["motions"]:
            motion, near = summary["id"], summary["near_worksite"]
            if summary["not_checked"] is not None or not near or not wanted(motion):
                continue
            of_motion = [
                finding
                for finding in report["findings"]
                if finding["check"] == "clearance" and finding["where"].get("motion") == motion and finding["at"]
            ]
            # A declared contact has limits of its own on part of the way: its pair is left to the engine's own tests.
            contacts = [set(finding["pair"]["bodies"]) for finding in of_motion if "(contact)" in finding["subject"]]
            of_motion = [finding for finding in of_motion if set(finding["pair"]["bodies"]) not in contacts]
            moments = ["--moments", str(count)]
            for at in reported_moments(of_motion, motion):
                moments += ["--at", at]
            poses = subprocess.run([program, "poses", *plan, motion, *moments], capture_output=True, check=True)
            findings_file, poses_file = Path(folder, "findings.json"), Path(folder, "poses.jsonl")
            lines, outcomes = poses.stdout.decode().splitlines(), []
            for segments in {frozenset(segments_of(finding, near)) for finding in of_motion}:
                with_them = [finding for finding in of_motion if segments_of(finding, near) == segments]
                if with_them and segments:
                    findings_file.write_text(json.dumps({**report, "findings": with_them}))
                    poses_file.write_text("\n".join(on_segments(lines, segments)))
                    outcomes.append(motion_sampling.main(str(findings_file), str(poses_file)))
            outcome = max(outcomes, default=2)
            print(f"{motion}: {'as proven' if outcome == 0 else 'REFUTED or not compared'}", flush=True)
            worst = max(worst, outcome)
    return worst


def arguments(question):
    """What is asked for on the command line: program, plan (a list of no or one), number of moments."""
    parser = argparse.ArgumentParser(description=question)
    parser.add_argument("program")
    parser.add_argument("plan", nargs="?")
    parser.add_argument("--moments", type=int, default=200)
    wanted = parser.parse_args()
    return wanted.program, [wanted.plan] if wanted.plan else [], wanted.moments


def main():
    return sampled(*arguments(__doc__.splitlines()[0]))


if __name__ == "__main__":
    sys.exit(main())
