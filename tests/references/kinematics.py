"""Where are the links of three arms that we did not write, and how does the tip move with each joint?

Source: Pinocchio on the URDF files of `urdf/` (see its ATTRIBUTION.md), 50 configurations each, evenly spread within
the joint limits and rounded to 1e-4 rad. An engine agrees to 1e-9 (m, rad): both evaluate a product of a dozen
transforms of metres in double precision, some 1e-15 each; a remake on another processor stays within 1e-12.
"""

import hashlib

import numpy as np
import pinocchio as pin

from reference import HERE, run, version

#: File, first and last link of the chain.
ARMS = [
    ("panda", "panda_link0", "panda_hand_tcp"),
    ("ur10", "base_link", "tool0"),
    ("xarm7", "link_base", "link_eef"),
]
CONFIGURATIONS = 50


def chain(model, base, tip):
    """Frames of the links from base to tip, and the joints between them in order."""
    frames, frame = [], model.getFrameId(tip, pin.BODY)
    while True:
        if model.frames[frame].type == pin.BODY:
            frames.insert(0, frame)
            if model.frames[frame].name == base:
                break
        frame = model.frames[frame].parentFrame
    joints = []
    for frame in frames:
        joint = model.frames[frame].parentJoint
        if joint and joint not in joints:
            joints.append(joint)
    return frames, joints


def arm(name, base, tip, random):
    path = HERE / "urdf" / f"{name}.urdf"
    model = pin.buildModelFromUrdf(str(path))
    data = model.createData()
    frames, joints = chain(model, base, tip)
    columns = [model.idx_vs[joint] for joint in joints]
    lower, upper = model.lowerPositionLimit[columns], model.upperPositionLimit[columns]
    configurations = []
    for _ in range(CONFIGURATIONS):
        values = np.round(random.uniform(lower + 1e-4, upper - 1e-4), 4)
        q = np.zeros(model.nq)
        q[columns] = values
        pin.framesForwardKinematics(model, data, q)
        poses = [data.oMf[frame] for frame in frames]
        assert poses[0].isIdentity(0.0), "the base link must be the world, or the poses need its inverse"
        jacobian = pin.computeFrameJacobian(model, data, q, frames[-1], pin.LOCAL_WORLD_ALIGNED)
        configurations.append({
            "q": values.tolist(),
            "poses": [[*pose.rotation.flatten().tolist(), *pose.translation.tolist()] for pose in poses],
            "jacobian": jacobian[:, columns].tolist(),
        })
    return {
        "name": name,
        "urdf": f"urdf/{name}.urdf",
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "base": base,
        "tip": tip,
        "joints": [model.names[joint] for joint in joints],
        "lower": lower.tolist(),
        "upper": upper.tolist(),
        "links": [model.frames[frame].name for frame in frames],
        "configurations": configurations,
    }


def make():
    """Link poses and tip Jacobians of three URDF arms, by Pinocchio."""
    random = np.random.default_rng(3)
    return {
        "source": "three URDF arms, see urdf/ATTRIBUTION.md",
        "library": "Pinocchio",
        "version": version("pin", "numpy"),
        "script": "kinematics.py",
        "how": "joint values q (rad) in the order of `joints`; poses base_from_link in the order of `links`, each nine "
        "numbers of the rotation row by row, then x y z (m); jacobian of the tip's origin in base axes, rows vx vy vz "
        "wx wy wz, a column per joint; fingers beside the chain stand at 0",
        "tolerances": {"poses": 1e-12, "jacobian": 1e-12},
        "arms": [arm(*each, random) for each in ARMS],
    }


if __name__ == "__main__":
    run(__file__, make)
