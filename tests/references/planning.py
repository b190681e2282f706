"""By which way does an arm that we did not write get round boxes that bar the straight one?

Source: problems made here, with Pinocchio's kinematics and coal's distances, on three URDF arms of `urdf/`. A start, a
configuration in between and a goal are drawn; boxes are kept only where the two legs by the one in between stay clear of
them, and one of the boxes lies in the straight way. So each problem is known to have an answer that no planner has found,
and the straight way is known to be none.

The legs keep CLEAR at every sample; between two samples no point of the arm moves more than 20 mm, so that nowhere is
anything nearer to a box than CLEAR less 10 mm, which is more than the LIMIT that a planner is given. One arm has the shapes
that its file gives, two have capsules from joint to joint in place of their meshes. Links that are no neighbours may
overlap by OVERLAP, as the shapes of the first do about its shoulder.
"""

import coal
import numpy as np
import pinocchio as pin

from coal_shapes import box, rotation, segment, signed_distance
from kinematics import ARMS, chain
from reference import HERE, run, version

PROBLEMS = 20
LIMIT, CLEAR, OVERLAP = 0.02, 0.05, 0.10
#: The straight way is so deep in a box, m.
BARRED = 0.02
#: Each leg is sampled so often; no point of the arm moves farther than REACH times the sum of the joints' steps.
SAMPLES, STEP, REACH = 100, 0.020, 1.4
MORE_BOXES = 5
#: Arms whose file gives shapes that are no meshes; the others get capsules of this radius, m.
OWN_SHAPES, CAPSULE = ["panda"], 0.038


class Arm:
    def __init__(self, name, base, tip):
        path = str(HERE / "urdf" / f"{name}.urdf")
        self.name, self.base, self.tip = name, base, tip
        self.model = pin.buildModelFromUrdf(path)
        self.data = self.model.createData()
        frames, self.joints = chain(self.model, base, tip)
        self.columns = [self.model.idx_vs[joint] for joint in self.joints]
        carriers = [0, *self.joints]
        self.capsules = [] if name in OWN_SHAPES else self.from_joint_to_joint(frames)
        if name in OWN_SHAPES:
            geometry = pin.buildGeomFromUrdf(self.model, path, pin.COLLISION)
            own = [object for object in geometry.geometryObjects if object.parentJoint in carriers]
            #: Number of the carrying joint on the chain (0: the base), shape, placement in the joint.
            self.parts = [
                (carriers.index(object.parentJoint), object.geometry, object.placement) for object in own
            ]
        else:
            self.parts = []
            for capsule in self.capsules:
                frame = self.model.frames[self.model.getFrameId(capsule["link"], pin.BODY)]
                shape, place = segment(capsule["a"], capsule["b"])
                shape = coal.Capsule(capsule["radius"], 2.0 * shape.halfLength)
                at = frame.placement * pin.SE3(place.getRotation(), place.getTranslation())
                self.parts.append((carriers.index(frame.parentJoint), shape, at))

    def from_joint_to_joint(self, frames):
        """A capsule on each link of the chain, from its own origin to the next link's."""
        capsules = []
        for frame, following in zip(frames, frames[1:]):
            inside, nxt = self.model.frames[frame], self.model.frames[following]
            q = pin.neutral(self.model)
            pin.framesForwardKinematics(self.model, self.data, q)
            to = self.data.oMf[frame].inverse() * self.data.oMf[following]
            end = np.round(to.translation, 6)
            if np.linalg.norm(end) > 1e-3:
                capsules.append({"link": inside.name, "a": [0.0, 0.0, 0.0], "b": end.tolist(), "radius": CAPSULE})
        return capsules

    def placed(self, values):
        """(carrier, shape, coal's placement) of every part."""
        q = pin.neutral(self.model)
        q[self.columns] = values
        pin.forwardKinematics(self.model, self.data, q)
        joints = [0, *self.joints]
        parts = []
        for carrier, shape, at in self.parts:
            place = self.data.oMi[joints[carrier]] * at
            parts.append((carrier, shape, coal.Transform3s(place.rotation, place.translation)))
        return parts

    def drawn(self, random):
        lower, upper = self.model.lowerPositionLimit[self.columns], self.model.upperPositionLimit[self.columns]
        at = random.uniform(np.maximum(lower + 0.1, -2.2), np.minimum(upper - 0.1, 2.2))
        return np.deg2rad(np.round(np.rad2deg(at), 1))


def keeps_off_itself(parts):
    return all(
        signed_distance(shape, place, other, there) > -OVERLAP + 0.02
        for carrier, shape, place in parts
        for further, other, there in parts
        if further >= carrier + 2
    )


def from_boxes(parts, boxes):
    """Least distance of what moves from any of the boxes."""
    return min(
        signed_distance(shape, place, other, there)
        for carrier, shape, place in parts
        if carrier > 0
        for other, there in boxes
    )


def between(start, end):
    count = max(SAMPLES, int(np.ceil(REACH * np.abs(end - start).sum() / STEP)))
    return [start + (end - start) * k / count for k in range(count + 1)]


def drawn_box(random, about, spread):
    turn = random.normal(size=4)
    return {
        "at": np.round(about + random.uniform(-spread, spread, 3), 3).tolist(),
        "quat_xyzw": (turn / np.linalg.norm(turn)).tolist(),
        "half": np.round(random.uniform(0.03, 0.12, 3), 3).tolist(),
    }


def solid(written):
    place = coal.Transform3s(rotation(written["quat_xyzw"]), np.asarray(written["at"]))
    return box(*written["half"]), place


def problem(arm, random):
    """One problem; None where what was drawn comes to none."""
    start, via, goal = (arm.drawn(random) for _ in range(3))
    legs = [arm.placed(values) for values in between(start, via) + between(via, goal)]
    straight = [arm.placed(values) for values in between(start, goal)]
    if not all(keeps_off_itself(parts) for parts in legs[::5]):
        return None

    def kept(solids):
        # Every few first: most boxes are in the way.
        return all(from_boxes(parts, solids) >= CLEAR for parts in [*legs[::20], *legs])

    for _ in range(20):
        middle = straight[int(len(straight) * random.uniform(0.3, 0.7))]
        moving = [place.getTranslation() for carrier, _, place in middle if carrier >= 3]
        bar = drawn_box(random, moving[int(random.integers(len(moving)))], 0.02)
        depth = min(from_boxes(parts, [solid(bar)]) for parts in straight[::4])
        if depth <= -BARRED and kept([solid(bar)]):
            break
    else:
        return None
    boxes = [bar]
    for _ in range(4 * MORE_BOXES):
        if len(boxes) <= MORE_BOXES:
            more = drawn_box(random, np.array([0.0, 0.0, 0.5]), 0.9)
            if kept([solid(more)]):
                boxes.append(more)
    solids = [solid(written) for written in boxes]
    return {
        "start": start.tolist(),
        "via": via.tolist(),
        "goal": goal.tolist(),
        "boxes": boxes,
        "legs_least": min(from_boxes(parts, solids) for parts in legs),
        "straight_least": min(from_boxes(parts, solids) for parts in straight),
    }


def of_arm(name, base, tip, random):
    arm = Arm(name, base, tip)
    problems = []
    while len(problems) < PROBLEMS:
        made = problem(arm, random)
        if made is not None:
            problems.append(made)
    return {"name": name, "capsules": arm.capsules, "problems": problems}


def make():
    """Problems of ways round boxes, each with an answer that is known."""
    random = np.random.default_rng(11)
    return {
        "source": "made here, for the arms of kinematics.json",
        "library": "Pinocchio (where links are), coal (how far from boxes)",
        "version": version("pin", "coal", "numpy"),
        "script": "planning.py",
        "how": "rad, m; capsules from a to b in the frame of their link, none where the URDF's own shapes hold; boxes by "
        f"half sizes; every part of the arm keeps {CLEAR} m from boxes by way of `via`, and goes into one on the straight way",
        "limit": LIMIT,
        "overlap": OVERLAP,
        "tolerances": {"legs_least": 1e-6, "straight_least": 1e-6, "quat_xyzw": 1e-12},
        "arms": [of_arm(*arm, random) for arm in ARMS],
    }


if __name__ == "__main__":
    run(__file__, make)
