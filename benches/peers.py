"""How do the engine's operations compare with what general-purpose libraries take for the same work?

Compiles `peers.cpp` against the libraries that the pinned packages of `tests/references/requirements.txt` bring along
(Pinocchio, coal), so that they run in a compiled loop and no call from Python is timed; needs g++ and the headers of
Eigen. Prints one line for each operation: the peer's median, ours if `cargo bench` has left one, and ours / theirs.

    python benches/peers.py [--plan PLAN] [--engine PATH/TO/trusswalk] [--criterion target/criterion] [--motion ID ...]

Motions: every motion of the plan at 1° of its fastest joint (10 mm of a sliding one, both ends of each segment
included), on the bodies and poses of `trusswalk poses`, without the pairs that `trusswalk check` lists as allowed to
touch, up to the plan's cap. "plain" asks coal for every pair within the cap; "pruned" leaves out pairs that balls about
them tell to be no nearer than what is already known of their two classes, which no longer yields every pair's distance.
Of coal's tree and plain loops with balls the quicker counts. The same samples must not lie below the engine's bracket.
"""

import argparse
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import coal

HERE = Path(__file__).parent
PREFIX = Path(coal.__file__).parents[4]
#: Degrees, or metres of a slide, from one sample to the next.
STEP = {"deg": 1.0, "m": 0.01}
#: coal's own error with its default tolerances, m.
COAL_ERROR = 1e-5


def compiled(folder, eigen):
    program = Path(folder) / "peers"
    boost = ["-DBOOST_MPL_LIMIT_LIST_SIZE=30", "-DBOOST_MPL_CFG_NO_PREPROCESSED_HEADERS"]
    headers = ["-isystem", PREFIX / "include", "-isystem", eigen]
    libraries = ["-L", PREFIX / "lib", f"-Wl,-rpath,{PREFIX / 'lib'}", "-lpinocchio_default", "-lcoal"]
    command = ["g++", "-O3", "-DNDEBUG", "-std=c++17", *boost, *headers, HERE / "peers.cpp", *libraries, "-o", program]
    subprocess.run([str(word) for word in command], check=True)
    return program


def timed(program, command, text=""):
    """What the peers print: numbers by name."""
    told = subprocess.run([str(program), command], input=text, capture_output=True, text=True, check=True).stdout
    return {name: float(value) for name, value in (line.split("\t") for line in told.splitlines())}


def words(*values):
    return " ".join(str(value) for value in values)


def distance_rows():
    """The random pairs of the stored distances, as `peers distances` reads them."""
    stored = json.loads((HERE.parent / "tests/references/distances.json").read_text(encoding="utf-8"))

    def shape(kind, numbers):
        if kind == "hull":
            return words(kind, len(numbers) // 3, *numbers, 0.0)
        return words(kind, *numbers, 0.0)

    lines = [words(len(stored["pairs"]))]
    for group in stored["pairs"]:
        kinds = group["a_kind"], group["b_kind"]
        lines.append(words(*kinds, len(group["rows"])))
        for row in group["rows"]:
            lines += [shape(kinds[0], row["a"]), shape(kinds[1], row["b"]), words(*row["a_pose"], *row["b_pose"])]
    return "\n".join(lines)


def along(a, b):
    """The pose x y z qx qy qz qw whose z axis runs from a to b, midway, and half their distance."""
    middle = [(p + q) / 2 for p, q in zip(a, b)]
    length = math.dist(a, b)
    if length == 0.0:
        return [*middle, 0.0, 0.0, 0.0, 1.0], 0.0
    x, y, z = ((q - p) / length for p, q in zip(a, b))
    # Half way between z and the direction; straight down is a half turn about x.
    turn = [-y, x, 0.0, 1.0 + z] if z > -1.0 + 1e-12 else [1.0, 0.0, 0.0, 0.0]
    norm = math.hypot(*turn)
    return [*middle, *(w / norm for w in turn)], length / 2


def part(record):
    """A body's part as `peers motion` reads it: shape, then its pose in the link."""
    kind, radius, still = record["core"], record["radius"], [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0]
    if kind == "point":
        return words("sphere", radius, 0.0, *record["at"], *still[3:])
    if kind == "segment":
        place, half = along(record["a"], record["b"])
        return words("capsule", half, radius, 0.0, *place)
    if kind == "box":
        return words("box", *record["half"], radius, *record["at"], *record["quat_xyzw"])
    if kind == "cylinder":
        sizes = record["half_length"], record["disk_radius"]
        return words("cylinder", *sizes, radius, *record["at"], *record["quat_xyzw"])
    corners = [number for corner in record["corners"] for number in corner]
    if kind == "triangle":
        return words("triangle", *corners, radius, *still)
    return words("hull", len(corners) // 3, *corners, radius, *still)


def moments(motion, units):
    """Segment and fraction of each sample."""
    samples = []
    for segment, (start, end) in enumerate(zip(motion["waypoints"], motion["waypoints"][1:])):
        steps = max(abs(b - a) / STEP[unit] for a, b, unit in zip(start, end, units))
        pieces = max(1, math.ceil(steps))
        samples += [f"{segment}:{k / pieces!r}" for k in range(pieces + 1)]
    return samples


def links(poses):
    """A number for each body: 0 where it stands still; bodies with one pose at all moments share theirs."""
    count = len(poses[0])
    numbers, seen = [], {}
    for body in range(count):
        track = tuple(tuple(moment[body]) for moment in poses)
        numbers.append(0 if len(set(track)) == 1 else seen.setdefault(track, len(seen) + 1))
    return numbers


def motion_text(engine, plan, motion, report):
    """The input of `peers motion`."""
    units = [joint["unit"] for joint in report["arm_joints"]]
    at = [word for moment in moments(motion, units) for word in ("--at", moment)]
    told = subprocess.run([engine, "poses", *plan, motion["id"], *at], capture_output=True, text=True, check=True).stdout
    bodies, *samples = (json.loads(line) for line in told.splitlines())
    bodies, poses = bodies["bodies"], [sample["poses"] for sample in samples]
    ids = {body["name"]: index for index, body in enumerate(bodies)}
    exempt = [(ids[pair["a"]], ids[pair["b"]]) for pair in report["may_touch"] if pair["a"] in ids and pair["b"] in ids]
    lines = [words(report["stated"]["cap_m"], len(bodies))]
    for body, link in zip(bodies, links(poses)):
        lines += [words(body["class"], link, len(body["parts"])), *map(part, body["parts"])]
    lines += [words(len(exempt)), *(words(*pair) for pair in exempt), words(len(poses))]
    lines += [words(*(number for pose in moment for number in pose)) for moment in poses]
    return "\n".join(lines), len(poses)


def below_bracket(motion, told, report):
    """Pairs of classes of which a sample lies under every lower bound that the engine gives; none should."""
    lowest = {}
    for finding in report["findings"]:
        pair = finding["pair"]
        if finding["check"] == "clearance" and finding["where"].get("motion") == motion["id"] and pair:
            bound = finding["bound"]
            low = bound["lower"] if bound else report["stated"]["cap_m"]
            key = frozenset(pair["classes"].split("_to_"))
            lowest[key] = min(lowest.get(key, math.inf), low)
    for name, low in told.items():
        if name.startswith("least/"):
            key = frozenset(name.removeprefix("least/").split("_to_"))
            if key in lowest and low < lowest[key] - COAL_ERROR:
                yield f"{motion['id']}: {' and '.join(sorted(key))} sampled at {low} m, bounded by {lowest[key]} m"


def ours(criterion, name):
    """The median that criterion left for a benchmark, ns; none if there is none."""
    layer, operation, size = name.split("/", 2)
    # By itself, or in a group of its operation.
    for place in [name], [f"{layer}/{operation}", size]:
        folder = criterion.joinpath(*(part.replace("/", "_")[:64] for part in place))
        estimates = folder / "new/estimates.json"
        if estimates.exists():
            return json.loads(estimates.read_text())["median"]["point_estimate"]
    return None


def row(name, theirs, mine):
    ratio = f"{mine / theirs:8.2f}" if mine else " " * 8
    print(f"{name:55} {theirs:13.0f} {mine or math.nan:13.0f} {ratio}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--plan", help="plan folder; the built-in demo where it is missing")
    parser.add_argument("--engine", default="target/release/trusswalk", help="the program")
    parser.add_argument("--criterion", type=Path, default=Path("target/criterion"), help="results of cargo bench")
    parser.add_argument("--eigen", default="/usr/include/eigen3", help="headers of Eigen")
    parser.add_argument("--motion", nargs="+", help="ids of motions; all where none is named")
    arguments = parser.parse_args()
    plan = [arguments.plan] if arguments.plan else []
    checked = subprocess.run([arguments.engine, "check", *plan, "--format", "json"], capture_output=True, text=True)
    report = json.loads(checked.stdout)
    with tempfile.TemporaryDirectory() as folder:
        peers = compiled(folder, arguments.eigen)
        print(f"{'operation':55} {'peer, ns':>13} {'ours, ns':>13} {'ratio':>8}")
        for told in (timed(peers, "kinematics"), timed(peers, "distances", distance_rows())):
            for name, theirs in told.items():
                row(name, theirs, ours(arguments.criterion, name))
        below, sums = [], {"plain": [], "pruned": []}
        for motion in report["motions"]:
            if motion["not_checked"] or len(motion["waypoints"]) < 2:
                continue
            if arguments.motion and motion["id"] not in arguments.motion:
                continue
            text, samples = motion_text(arguments.engine, plan, motion, report)
            told = timed(peers, "motion", text)
            name = f"motion/clearance_bound/{motion['id']}"
            mine = ours(arguments.criterion, name)
            for kind, sum_of in sums.items():
                theirs = min(told[f"{kind}/tree"], told[f"{kind}/loops"])
                row(f"{name}, {samples} samples, {kind}", theirs, mine)
                sum_of.append((theirs, mine))
            below += below_bracket(motion, told, report)
    for kind, pairs in sums.items():
        both = [(theirs, mine) for theirs, mine in pairs if mine]
        if both:
            row(f"motion/clearance_bound, all {len(both)}, {kind}", *map(sum, zip(*both)))
    for line in below:
        print(line, file=sys.stderr)
    return 1 if below else 0


if __name__ == "__main__":
    sys.exit(main())
