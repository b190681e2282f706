"""How far apart are two convex shapes, by coal? A shape is a core and a radius, as in the engine.

Cores lie in their own frame: cylinders and segments along z about the origin, boxes about the origin. The signed value
is negative where the shapes overlap: the least translation that separates them.

Settings: coal stops GJK and EPA at a tolerance, 1e-6 by default, which on curved shapes leaves up to 6e-6 m and now and
then 1e-7 m of depth on flat ones. GJK at 1e-10 leaves some 1e-9 m. EPA at 1e-10 is exact on flat faces, but on cylinders
it fails (it returns nonsense, seen at 1e-8 already), so there it keeps the default.
"""

import coal
import numpy as np


def request(epa_tolerance):
    asked = coal.DistanceRequest()
    asked.enable_signed_distance = True
    asked.gjk_tolerance = 1e-10
    asked.gjk_max_iterations = 1000
    asked.epa_tolerance = epa_tolerance
    asked.epa_max_iterations = 1000
    return asked


FLAT, CURVED = request(1e-10), request(1e-6)


def sphere(radius):
    return coal.Sphere(radius)


def capsule(half_length, radius):
    return coal.Capsule(radius, 2.0 * half_length)


def segment(a, b):
    """The bare line segment from a to b: a capsule without radius, and where it stands."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    length = np.linalg.norm(b - a)
    axes = np.eye(3)
    if length > 0.0:
        along = (b - a) / length
        side = np.cross(along, axes[np.argmin(np.abs(along))])
        side /= np.linalg.norm(side)
        axes = np.column_stack([side, np.cross(along, side), along])
    return coal.Capsule(0.0, length), coal.Transform3s(axes, (a + b) / 2.0)


def box(x, y, z):
    """By half sizes."""
    return coal.Box(2.0 * x, 2.0 * y, 2.0 * z)


def cylinder(half_length, radius):
    return coal.Cylinder(radius, 2.0 * half_length)


def vectors(numbers):
    points = coal.StdVec_Vec3s()
    for point in np.reshape(np.asarray(numbers, float), (-1, 3)):
        points.append(point)
    return points


def hull(*numbers):
    """By the coordinates of its points, x y z x y z ..."""
    return coal.Convex.convexHull(vectors(numbers), False, None)


def triangle(*numbers):
    """As a flat convex body: coal answers no distance for its own `TriangleP`."""
    facets = coal.StdVec_Triangle()
    facets.append(coal.Triangle(0, 1, 2))
    facets.append(coal.Triangle(0, 2, 1))
    return coal.Convex(vectors(numbers), facets)


def placed(pose):
    """From x y z and a unit quaternion qx qy qz qw."""
    return coal.Transform3s(rotation(pose[3:]), np.asarray(pose[:3], float))


def rotation(quaternion):
    x, y, z, w = quaternion
    return np.array([
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ])


def signed_distance(a, a_place, b, b_place):
    asked = CURVED if isinstance(a, coal.Cylinder) or isinstance(b, coal.Cylinder) else FLAT
    return coal.distance(a, a_place, b, b_place, asked, coal.DistanceResult())
