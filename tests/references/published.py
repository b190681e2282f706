"""By which way does a research arm get round the things of published scenes?

Source: the problem set that the Python package `vamp-planner` 0.6.4 carries in its source distribution (65 MB, so what is
compared is kept here, and the package is no requirement): `resources/panda/problems.tar.bz2`, the MotionBenchMaker problems
of Chamzas et al. 2022, *MotionBenchMaker: a tool to generate and benchmark motion planning datasets*, IEEE Robotics and
Automation Letters 7(2), and `resources/panda/panda_spherized.urdf`, an arm made of spheres (Apache-2.0, see
`urdf/ATTRIBUTION.md`). Of the seven kinds of scene the first PROBLEMS are taken. The package's own planner finds 699 of all
700 to have sound ends, and solves those.

    python published.py SDIST.tar.gz        # the file that `pip download --no-deps vamp-planner==0.6.4` brings

Positions, turns and sizes are the files' own; an object's place is taken on to that of its one shape.
"""

import io
import re
import sys
import tarfile
from pathlib import Path

import pinocchio as pin
import yaml

from reference import HERE, text, version

PROBLEMS = 20
INSIDE = "vamp_planner-0.6.4/resources/panda"
JOINTS = [f"panda_joint{number}" for number in range(1, 8)]


def placed(written):
    return pin.XYZQUATToSE3([*written["position"], *written["orientation"]])


def thing(written):
    """A box by half sizes, or a cylinder by length and radius, and where it is."""
    (shape,), (inside,) = written["primitives"], written["primitive_poses"]
    place = placed(inside)
    if "pose" in written:
        place = placed(written["pose"]) * place
    sizes = shape["dimensions"]
    form = {"half": [size / 2 for size in sizes]} if shape["type"] == "box" else {"length": sizes[0], "radius": sizes[1]}
    if shape["type"] not in ("box", "cylinder"):
        raise SystemExit(f"a thing is a {shape['type']}")
    numbers = pin.SE3ToXYZQUAT(place)
    return {"at": numbers[:3].tolist(), "quat_xyzw": numbers[3:].tolist(), **form}


def problem(scene, request):
    state = request["start_state"]["joint_state"]
    goal = {each["joint_name"]: each["position"] for each in request["goal_constraints"][0]["joint_constraints"]}
    return {
        "start": [float(state["position"][state["name"].index(joint)]) for joint in JOINTS],
        "goal": [float(goal[joint]) for joint in JOINTS],
        "things": [thing(written) for written in scene["world"]["collision_objects"]],
    }


def make(package):
    """The problems that the package's file holds, as they are compared with."""
    with tarfile.open(package) as outer:
        arm = outer.extractfile(f"{INSIDE}/panda_spherized.urdf").read()
        inner = outer.extractfile(f"{INSIDE}/problems.tar.bz2").read()
    if (HERE / "urdf" / "panda_spherized.urdf").read_bytes() != arm:
        raise SystemExit("the stored URDF is not the package's")
    files = {}
    with tarfile.open(fileobj=io.BytesIO(inner)) as problems:
        for member in filter(tarfile.TarInfo.isfile, problems.getmembers()):
            _, kind, name = member.name.split("/")
            what, number = re.fullmatch(r"(scene|request)(\d+)\.yaml", name).groups()
            if int(number) <= PROBLEMS:
                files[kind, int(number), what] = yaml.safe_load(problems.extractfile(member).read())
    kinds = sorted({kind for kind, _, _ in files})
    return {
        "source": "MotionBenchMaker problems in the package's resources/panda/problems.tar.bz2",
        "library": "vamp-planner",
        "version": "vamp-planner 0.6.4, " + version("pin"),
        "script": "published.py",
        "how": "rad, m; the first problems of each kind of scene, in their order; boxes by half sizes, cylinders about z",
        "kinds": [
            {
                "name": kind,
                "problems": [
                    problem(files[kind, number, "scene"], files[kind, number, "request"])
                    for number in range(1, PROBLEMS + 1)
                ],
            }
            for kind in kinds
        ],
    }


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit("usage: published.py SDIST.tar.gz")
    (HERE / Path(__file__).with_suffix(".json").name).write_text(text(make(sys.argv[1])) + "\n", encoding="utf-8")
    print("published.json")
