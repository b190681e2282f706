"""Where is the tip of the published six-joint arm, how does it move, and which eight configurations reach one pose?

Source: the six-joint DH table with spherical wrist of the toolbox's own model. Solutions are the analytic ones of the
toolbox, one for each choice of shoulder, elbow and wrist. Angles in degrees here, as the table prints them.
"""

import numpy as np
from roboticstoolbox.models.DH import Puma560

from reference import run, version

CONFIGURATIONS = {
    "zero": (0, 0, 0, 0, 0, 0),
    "ready": (0, 90, -90, 0, 0, 0),
    "stretch": (0, 0, -90, 0, 0, 0),
    "nominal": (0, 45, 180, 0, 45, 0),
    "generic": (10, -20, 30, 40, -50, 60),
}
#: What the tip applies to its surroundings: force (N), then moment about the tip (N·m), base axes; arm at "nominal".
WRENCHES = [(100, 0, 0, 0, 0, 0), (0, 100, 0, 0, 0, 0), (0, 0, -100, 0, 0, 0), (0, 0, 0, 0, 0, 30), (0, 0, 0, 30, 0, 0)]
BRANCHES = [shoulder + elbow + wrist for shoulder in "lr" for elbow in "ud" for wrist in "nf"]


def pose(matrix):
    return [*matrix[:3, :3].flatten().tolist(), *matrix[:3, 3].tolist()]


def within(angles, lower, upper):
    """Whether every angle, taken modulo 360, lies in its range."""
    turned = lower + np.mod(angles - lower + 1e-9, 360.0)
    return bool(np.all(turned <= upper + 2e-9))


def make():
    """Forward and inverse kinematics of the published six-joint arm, by the Robotics Toolbox."""
    arm = Puma560()
    lower, upper = np.degrees(arm.qlim)
    configurations, inverse = [], []
    for name, q_deg in CONFIGURATIONS.items():
        q = np.radians(q_deg)
        tip, jacobian = arm.fkine(q).A, arm.jacob0(q)
        configurations.append({
            "name": name,
            "q_deg": list(q_deg),
            "pose": pose(tip),
            "jacobian": jacobian.tolist(),
            "manipulability": float(np.sqrt(max(0.0, np.linalg.det(jacobian @ jacobian.T)))),
        })
        if name in ("nominal", "generic"):
            answers = [arm.ikine_a(tip, branch) for branch in BRANCHES]
            assert all(answer.success for answer in answers), f"{name}: a branch has no solution"
            solutions = [np.degrees(answer.q) for answer in answers]
            inverse.append({
                "name": name,
                "pose": pose(tip),
                "branches": BRANCHES,
                "solutions_deg": [(np.mod(s + 179.5, 360.0) - 179.5).tolist() for s in solutions],
                "in_limits": [within(s, lower, upper) for s in solutions],
            })
    nominal = arm.jacob0(np.radians(CONFIGURATIONS["nominal"]))
    return {
        "source": "published six-joint DH table (Corke & Armstrong-Helouvry 1994, from memory) as the toolbox carries it",
        "library": "roboticstoolbox-python",
        "version": version("roboticstoolbox-python", "spatialmath-python", "numpy"),
        "script": "six_joint.py",
        "how": "standard DH, turning joints; pose base_from_tip: nine numbers of the rotation row by row, then x y z "
        "(m); jacobian in base axes, rows vx vy vz wx wy wz; solutions from -179.5 to 180.5 deg; limits taken modulo 360 deg",
        "tolerances": {"pose": 1e-12, "jacobian": 1e-12, "manipulability": 1e-7, "solutions_deg": 1e-6, "torques": 1e-9},
        "d_m": list(map(float, arm.d)),
        "a_m": list(map(float, arm.a)),
        "alpha_deg": np.degrees(arm.alpha).tolist(),
        "lower_deg": lower.tolist(),
        "upper_deg": upper.tolist(),
        "configurations": configurations,
        "inverse": inverse,
        "statics": [{"wrench": list(w), "torques": (nominal.T @ w).tolist()} for w in WRENCHES],
    }


if __name__ == "__main__":
    run(__file__, make)
