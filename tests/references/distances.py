"""How far apart are random pairs of convex shapes of every kind, or how deep in one another?

Source: coal, through `coal_shapes.py`. coal offers no distance for its triangle shape; here a triangle is a flat convex
body of three corners, which it answers. Inputs are rounded to 0.001 so that they are short; quaternions are normalised
after rounding. Half of the pairs have their centres within 2 m, the others within 8 m.

Second opinions, of which each pair of kinds stores the largest difference (`disagreement`): the pair in the other
order; for overlapping bodies with flat faces the depth from the hull of all differences of corners (qhull, by scipy);
for spheres against triangles the closest point (trimesh). In 10^4 pairs of each two kinds the largest was 2e-13 without
a cylinder; with one, where GJK and EPA stop at coal's tolerances, 9e-8 apart (mostly under 1e-9) and 4e-6 overlapping.
The script fails where two opinions differ by more than the constants below.

A sphere whose centre lies inside a cylinder has the closed form as its value, not coal's: coal's is a depth, but in 4 of
the 480 pairs (71 have the centre inside) not the least one, too deep by up to 0.21 m, both ways round.
"""

import itertools
import math

import numpy as np
import trimesh
from scipy.spatial import ConvexHull

import coal_shapes
from reference import run, version

#: Parameters of each kind, in the order in which a row lists them (m).
KINDS = {
    "sphere": "radius",
    "capsule": "half_length of the segment on z, radius",
    "box": "half sizes x, y, z",
    "cylinder": "half_length on z, radius",
    "hull": "x y z of 8 to 20 points on an ellipsoid",
    "triangle": "x y z of three corners",
}
#: 21 pairs of kinds, 480 each: 10080 pairs.
PAIRS = 480
#: Largest allowed difference of two opinions: without a cylinder, with one apart, with one overlapping.
FLAT, CURVED, CURVED_DEPTH = 1e-9, 1e-7, 2e-5


def millimetres(random, low, high, count):
    return [float(value) for value in np.round(random.uniform(low, high, count), 3)]


def direction(random, size=3):
    """A unit vector, from a point in a ball: square roots are the same on every machine, sines are not."""
    while True:
        point = millimetres(random, -1.0, 1.0, size)
        length = math.sqrt(sum(x * x for x in point))
        if 0.1 < length <= 1.0:
            return [x / length for x in point]


def parameters(kind, random):
    if kind == "sphere":
        return millimetres(random, 0.1, 0.5, 1)
    if kind in ("capsule", "cylinder"):
        return millimetres(random, 0.1, 2.0, 1) + millimetres(random, 0.1, 0.5, 1)
    if kind == "box":
        return millimetres(random, 0.1, 1.0, 3)
    if kind == "triangle":
        return millimetres(random, -1.0, 1.0, 9)
    half = millimetres(random, 0.1, 1.0, 3)
    count = int(random.integers(8, 21))
    return [round(h * x, 3) for _ in range(count) for h, x in zip(half, direction(random))]


def poses(random):
    first = millimetres(random, -4.0, 4.0, 3)
    length = random.uniform(0.0, 2.0 if random.integers(2) else 8.0)
    second = [round(x + length * u, 3) for x, u in zip(first, direction(random))]
    return first + direction(random, 4), second + direction(random, 4)


def core(kind, numbers, pose):
    """Corners of the core in the common frame, and radius; None for a curved core."""
    if kind == "cylinder":
        return None
    if kind == "sphere":
        local, radius = [[0.0, 0.0, 0.0]], numbers[0]
    elif kind == "capsule":
        local, radius = [[0.0, 0.0, -numbers[0]], [0.0, 0.0, numbers[0]]], numbers[1]
    elif kind == "box":
        local, radius = list(itertools.product(*[(-h, h) for h in numbers])), 0.0
    else:
        local, radius = np.reshape(numbers, (-1, 3)), 0.0
    return np.asarray(local) @ coal_shapes.rotation(pose[3:]).T + pose[:3], radius


def sphere_in_cylinder(kinds, row):
    """The signed distance of a sphere whose centre lies inside a cylinder, or None."""
    if kinds != ("sphere", "cylinder"):
        return None
    (radius,), (half_length, rim) = row["a"], row["b"]
    offset = np.subtract(row["a_pose"][:3], row["b_pose"][:3])
    x, y, z = coal_shapes.rotation(row["b_pose"][3:]).T @ offset
    depth = min(half_length - abs(z), rim - math.hypot(x, y))
    return float(-depth - radius) if depth > 0.0 else None


def second_opinion(kinds, row):
    """The signed distance by another library, or None where there is none."""
    cores = [core(kind, row[side], row[f"{side}_pose"]) for kind, side in zip(kinds, "ab")]
    if None in cores:
        return None
    (a, a_radius), (b, b_radius) = cores
    if kinds == ("sphere", "triangle"):
        closest = trimesh.triangles.closest_point(b[None], a)[0]
        return float(np.linalg.norm(closest - a[0])) - a_radius
    if row["distance"] + a_radius + b_radius > -1e-6:
        return None
    differences = (b[None] - a[:, None]).reshape(-1, 3)
    return float(ConvexHull(differences).equations[:, 3].max()) - a_radius - b_radius


def rows_of(kinds, pairs, random):
    rows, worst = [], {"apart": 0.0, "overlap": 0.0}
    for _ in range(pairs):
        row = {"a": parameters(kinds[0], random), "b": parameters(kinds[1], random)}
        row["a_pose"], row["b_pose"] = poses(random)
        a, b = (getattr(coal_shapes, kind)(*row[side]) for kind, side in zip(kinds, "ab"))
        a_place, b_place = coal_shapes.placed(row["a_pose"]), coal_shapes.placed(row["b_pose"])
        row["distance"] = coal_shapes.signed_distance(a, a_place, b, b_place)
        row["apart"] = row["distance"] > 0.0
        exact = sphere_in_cylinder(kinds, row)
        if exact is not None:
            row["distance"] = exact
            rows.append(row)
            continue
        others = [coal_shapes.signed_distance(b, b_place, a, a_place), second_opinion(kinds, row)]
        difference = max(abs(other - row["distance"]) for other in others if other is not None)
        allowed = FLAT if "cylinder" not in kinds else CURVED if row["apart"] else CURVED_DEPTH
        if not difference <= allowed:
            raise SystemExit(f"{kinds}: two opinions differ by {difference}: {row}")
        side = "apart" if row["apart"] else "overlap"
        worst[side] = max(worst[side], difference)
        rows.append(row)
    return rows, worst


def make(pairs=PAIRS):
    """Signed distances of random pairs of every two kinds of convex shape, by coal."""
    groups = []
    for index, kinds in enumerate(itertools.combinations_with_replacement(KINDS, 2)):
        rows, worst = rows_of(kinds, pairs, np.random.default_rng([3, index]))
        allowed = CURVED_DEPTH if "cylinder" in kinds else FLAT
        groups.append({
            "a_kind": kinds[0],
            "b_kind": kinds[1],
            "tolerances": {"distance": allowed, "disagreement": allowed},
            "disagreement": worst,
            "rows": rows,
        })
    return {
        "source": "random shapes, rounded to 0.001",
        "library": "coal (second opinions: scipy's qhull, trimesh)",
        "version": version("coal", "numpy", "scipy", "trimesh"),
        "script": "distances.py",
        "how": "metres; a and b hold the parameters of their kind as under `kinds`; a pose is x y z qx qy qz qw and "
        "places the shape's own frame in the common one; distance is signed, negative = least translation that "
        "separates; apart = distance > 0; disagreement = largest difference of two opinions",
        "kinds": KINDS,
        "pairs": groups,
    }


if __name__ == "__main__":
    run(__file__, make, [("--pairs", PAIRS, "pairs of shapes for each two kinds")])
