"""Does any sample of a motion lie under the clearance that `trusswalk check` proves for it?

Reads the JSON lines of `trusswalk poses` (bodies, then one line per moment) and the findings of
`trusswalk check --format json`; asks coal for the distance of each listed pair at each moment: the distance of the two
cores less the two radii, the least over the parts of both bodies. Prints one JSON line per finding.

    python motion_sampling.py FINDINGS.json [POSES.jsonl]        # poses from stdin where no file is named

Exits with 1 where a sample lies under the stated lower bound, or where the moment that the finding reports is among the
samples and its distance is off the upper bound; with 2 where there is nothing to compare, so that silence is no pass.

Tolerances: coal's own error, 1e-7 m apart and 2e-5 m where a cylinder's core overlaps (see distances.py); 1e-5 m at the
reported moment, as the project promises.
"""

import json
import sys

import coal_shapes
from coal_shapes import placed, signed_distance

COAL_APART, COAL_OVERLAP, AT_MOMENT = 1e-7, 2e-5, 1e-5
IDENTITY = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0]


def core(part):
    """coal's shape of a part's core, and body_from_core."""
    kind = part["core"]
    if kind == "point":
        return coal_shapes.sphere(0.0), placed([*part["at"], 0.0, 0.0, 0.0, 1.0])
    if kind == "segment":
        return coal_shapes.segment(part["a"], part["b"])
    if kind == "box":
        return coal_shapes.box(*part["half"]), placed(part["at"] + part["quat_xyzw"])
    if kind == "cylinder":
        shape = coal_shapes.cylinder(part["half_length"], part["disk_radius"])
        return shape, placed(part["at"] + part["quat_xyzw"])
    numbers = [number for corner in part["corners"] for number in corner]
    if kind == "hull":
        return coal_shapes.hull(*numbers), placed(IDENTITY)
    if kind == "triangle":
        return coal_shapes.triangle(*numbers), placed(IDENTITY)
    raise SystemExit(f"a part has a core of kind {kind!r}")


def least_distance(a, a_place, b, b_place):
    """Least signed distance of two bodies: over their parts, cores less radii."""
    return min(
        signed_distance(shape, a_place * at, other, b_place * there) - radius - other_radius
        for shape, at, radius in a
        for other, there, other_radius in b
    )


def read_poses(lines):
    """Parts of each body by id, ids by name, and the moments."""
    parts, ids, moments = {}, {}, []
    for line in filter(str.strip, lines):
        record = json.loads(line)
        if record["kind"] == "bodies":
            for body in record["bodies"]:
                ids[body["name"]] = body["id"]
                parts[body["id"]] = [(*core(part), part["radius"]) for part in body["parts"]]
        elif record["kind"] == "moment":
            moments.append(record)
        else:
            raise SystemExit(f"a line of poses has kind {record['kind']!r}")
    return parts, ids, moments


def clearances(findings):
    """The findings that name a motion, two bodies and a bracket."""
    for finding in findings["findings"]:
        pair = finding.get("pair") or {}
        if finding["check"] == "clearance" and "motion" in finding["where"] and pair.get("bodies") and finding["bound"]:
            yield finding


def compared(finding, parts, ids, moments):
    """What the samples say about one finding; None where no sample is of its motion."""
    names = finding["pair"]["bodies"]
    moments = [moment for moment in moments if moment["motion"] == finding["where"]["motion"]]
    if not moments:
        return None
    for name in names:
        if name not in ids:
            raise SystemExit(f"{name!r} has a clearance finding, but is not among the posed bodies")
    a, b = (ids[name] for name in names)
    rank = {body: index for index, body in enumerate(sorted(parts))}
    lower, upper = finding["bound"]["lower"], finding["bound"]["upper"]
    at = finding.get("at") or {}
    least, least_at, off_moment = None, None, None
    for moment in moments:
        a_place, b_place = (placed(moment["poses"][rank[body]]) for body in (a, b))
        distance = least_distance(parts[a], a_place, parts[b], b_place)
        when = {"segment": moment["segment"], "fraction": moment["fraction"]}
        if least is None or distance < least:
            least, least_at = distance, when
        if all(at.get(key) == when[key] for key in when):
            off_moment = abs(distance - upper)
    allowed = COAL_APART if least > 0.0 else COAL_OVERLAP
    holds = least >= lower - allowed and (off_moment is None or off_moment <= AT_MOMENT)
    return {
        "motion": finding["where"]["motion"],
        "bodies": names,
        "samples": len(moments),
        "least": least,
        "at": least_at,
        "lower": lower,
        "upper": upper,
        "off_at_reported_moment": off_moment,
        "holds": holds,
    }


def main(findings_path, poses_path=None):
    with open(findings_path, encoding="utf-8") as file:
        findings = json.load(file)
    if poses_path is None:
        parts, ids, moments = read_poses(sys.stdin)
    else:
        with open(poses_path, encoding="utf-8") as file:
            parts, ids, moments = read_poses(file)
    rows = [row for finding in clearances(findings) if (row := compared(finding, parts, ids, moments))]
    for row in rows:
        print(json.dumps(row, ensure_ascii=False))
    if not rows:
        print("nothing to compare: no clearance finding whose motion and bodies are among the poses", file=sys.stderr)
        return 2
    return 0 if all(row["holds"] for row in rows) else 1


if __name__ == "__main__":
    if not 2 <= len(sys.argv) <= 3:
        raise SystemExit("usage: motion_sampling.py FINDINGS.json [POSES.jsonl]")
    sys.exit(main(*sys.argv[1:]))
