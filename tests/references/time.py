"""How long does a motion take, at rest at both ends, under limits of speed and acceleration?

Source: ruckig with jerk unlimited for single joints, and for several joints that wait for one another; toppra for
several joints on a straight line in joint space, where one profile serves all. Any unit of distance. ruckig solves
in closed form: an engine agrees to 1e-9 relative. toppra steps over a grid, so a ramp shorter than a step costs time: it
is above the optimum by at most 1e-4 relative, measured here on every case against the closed form (`toppra_excess`).

A third limit, of the tip's speed, has no closed form: at each place of a straight line in joint space it is a limit of
the joints' common pace, from Pinocchio's Jacobian of the tip of one of the URDF arms of `urdf/`; toppra takes it as joint
speed limits that vary along the way. It holds them on its grid alone, so in between it may be faster than is allowed, by
less than 1e-4. An engine that bounds the tip's speed on pieces is slower; within 1 % is asked for.
"""

import itertools
import math

import numpy as np
import pinocchio as pin
import ruckig
import toppra
from toppra.algorithm import TOPPRA
from toppra.constraint import JointAccelerationConstraint, JointVelocityConstraint, JointVelocityConstraintVarying

from kinematics import ARMS, chain
from reference import HERE, run, version

#: Distance, speed, acceleration: the rows of the project's table of check values.
TABLE = [
    (6.0, 0.15, 0.01),
    (2.25, 0.15, 0.01),
    (1.0, 0.15, 0.01),
    (6.0, 0.37, 0.05),
    (90.0, 4.0, 1.0),
    (10.0, 4.0, 1.0),
    (1.0, 0.03, 0.01),
    (0.05, 1.0, 0.01),
    (10.0, 2.0, 2.0),
]
JOINTS = [([90.0, 45.0, 10.0], [4.0, 1.0, 4.0], [1.0, 0.5, 0.1])]
GRID = 4000
#: Lines of each arm with a limit of the tip's speed.
TIP_LINES = 40
#: Length of toppra's path parameter: its absolute tolerances cost 0.1 % of time where the parameter runs from 0 to 1.
PARAMETER = 1000.0
toppra.setup_logging("ERROR")


def rest_to_rest(distances, speeds, accelerations):
    """ruckig's trajectory from 0 to `distances`; all joints arrive together."""
    asked = ruckig.InputParameter(len(distances))
    asked.target_position = distances
    asked.max_velocity = speeds
    asked.max_acceleration = accelerations
    trajectory = ruckig.Trajectory(len(distances))
    result = ruckig.Ruckig(len(distances)).calculate(asked, trajectory)
    if result not in (ruckig.Result.Working, ruckig.Result.Finished):
        raise SystemExit(f"ruckig: {result} for {distances}, {speeds}, {accelerations}")
    return trajectory


def single(distance, speed, acceleration):
    trajectory = rest_to_rest([distance], [speed], [acceleration])
    _, velocity, _ = trajectory.at_time(trajectory.duration / 2)
    return {
        "distance": distance,
        "speed": speed,
        "acceleration": acceleration,
        "seconds": trajectory.duration,
        "peak_speed": velocity[0],
    }


def together(distances, speeds, accelerations):
    alone = [rest_to_rest([d], [v], [a]).duration for d, v, a in zip(distances, speeds, accelerations)]
    path = toppra.SplineInterpolator([0.0, PARAMETER], np.array([np.zeros(len(distances)), distances]))
    limits = [
        JointVelocityConstraint(np.column_stack([np.negative(speeds), speeds])),
        JointAccelerationConstraint(np.column_stack([np.negative(accelerations), accelerations])),
    ]
    solver = TOPPRA(limits, path, gridpoints=np.linspace(0.0, PARAMETER, GRID + 1), parametrizer="ParametrizeConstAccel")
    seconds = float(solver.compute_trajectory(0.0, 0.0).duration)
    rate = min(v / d for v, d in zip(speeds, distances))
    growth = min(a / d for a, d in zip(accelerations, distances))
    exact = 1.0 / rate + rate / growth if growth >= rate * rate else 2.0 / math.sqrt(growth)
    excess = seconds / exact - 1.0
    if not -1e-7 <= excess <= 1e-4:
        raise SystemExit(f"toppra is {excess} off the closed form for {distances}, {speeds}, {accelerations}")
    return {
        "distances": distances,
        "speeds": speeds,
        "accelerations": accelerations,
        "alone_seconds": alone,
        "together_seconds": rest_to_rest(distances, speeds, accelerations).duration,
        "straight_seconds": seconds,
        "toppra_excess": excess,
    }


def with_tip(name, base, tip, random):
    """Straight lines of an arm whose tip has a speed limit too; on some it is what limits all along, on some nowhere."""
    model = pin.buildModelFromUrdf(str(HERE / "urdf" / f"{name}.urdf"))
    data = model.createData()
    frames, joints = chain(model, base, tip)
    columns = [model.idx_vs[joint] for joint in joints]
    lower, upper = model.lowerPositionLimit[columns], model.upperPositionLimit[columns]

    def line():
        start, end = (np.round(random.uniform(np.maximum(lower, -2.0), np.minimum(upper, 2.0)), 3) for _ in range(2))
        end = np.round(start + (end - start) * random.uniform(0.1, 1.0), 3)
        change = end - start
        speeds = rounded(random, 0.1, 1.0, len(columns))
        accelerations = rounded(random, 0.1, 1.0, len(columns))
        tip_speed = round(float(10.0 ** random.uniform(-2.0, 0.0)), 3)

        def limits(at):
            q = np.zeros(model.nq)
            q[columns] = start + change * at / PARAMETER
            jacobian = pin.computeFrameJacobian(model, data, q, frames[-1], pin.LOCAL_WORLD_ALIGNED)
            pace = tip_speed / np.linalg.norm(jacobian[:3, columns] @ change)
            least = np.array(speeds)
            # All joints share one pace: the limit of one of them is enough.
            farthest = np.argmax(np.abs(change))
            least[farthest] = min(least[farthest], abs(change[farthest]) * pace)
            return np.column_stack([-least, least])

        path = toppra.SplineInterpolator([0.0, PARAMETER], np.array([start, end]))
        held = [
            JointVelocityConstraintVarying(limits),
            JointAccelerationConstraint(np.column_stack([np.negative(accelerations), accelerations])),
        ]
        grid = np.linspace(0.0, PARAMETER, GRID + 1)
        solver = TOPPRA(held, path, gridpoints=grid, parametrizer="ParametrizeConstAccel")
        trajectory = solver.compute_trajectory(0.0, 0.0)
        if trajectory is None:
            return None
        return {
            "from": start.tolist(),
            "to": end.tolist(),
            "speeds": speeds,
            "accelerations": accelerations,
            "tip_speed": tip_speed,
            "seconds": float(trajectory.duration),
        }

    # About one line in forty toppra's rounding takes for one that can't be stopped; another is drawn for it.
    lines = filter(None, (line() for _ in itertools.count()))
    return {"name": name, "lines": list(itertools.islice(lines, TIP_LINES))}


def rounded(random, low, high, count):
    return [float(value) for value in np.round(random.uniform(low, high, count), 3)]


def make():
    """Times of rest-to-rest motions, by ruckig and toppra."""
    random = np.random.default_rng(3)
    cases = []
    for _ in range(200):
        (distance,), (speed,), (acceleration,) = (rounded(random, *r, 1) for r in ((0.01, 20), (0.05, 5), (0.01, 2)))
        cases.append(single(distance, speed, acceleration))
    lines = []
    for _ in range(40):
        count = int(random.integers(2, 8))
        lines.append(together(*(rounded(random, *r, count) for r in ((0.05, 20), (0.05, 5), (0.01, 2)))))
    return {
        "source": "section 'Time' of the project's check values, then random cases rounded to 0.001",
        "library": "ruckig (seconds, peak_speed, alone_seconds, together_seconds), toppra (straight_seconds, tip_lines)",
        "version": version("ruckig", "toppra", "pin", "numpy"),
        "script": "time.py",
        "how": f"any unit of distance; jerk unlimited; toppra on {GRID} equal steps, its time above the optimum by the "
        "share toppra_excess; tip_lines: arms of kinematics.json, rad, tip_speed of the tip link's origin in m/s",
        "tolerances": {
            "seconds": 1e-9,
            "peak_speed": 1e-9,
            "alone_seconds": 1e-9,
            "together_seconds": 1e-9,
            "straight_seconds": 1e-5,
            "toppra_excess": 1e-6,
            "tip_lines": 1e-5,
        },
        "table": [single(*case) for case in TABLE],
        "random": cases,
        "joints": [together(*case) for case in JOINTS],
        "lines": lines,
        "tip_lines": [with_tip(*arm, random) for arm in ARMS],
    }


if __name__ == "__main__":
    run(__file__, make)
