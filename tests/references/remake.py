"""Are the stored references what their scripts make today? Makes all anew in a temporary folder and compares.

Texts, inputs and versions must be the same to the last bit. A result may differ by the absolute tolerance that the
stored file names for its key under `tolerances` (it holds for everything below that key, and a nearer one wins): another
processor rounds sums in another order. Exits with 1 on any deviation and on any script that does not run to its end, as
where a package is missing.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from reference import HERE

NAMES = ["kinematics", "six_joint", "distances", "time", "figure", "planning"]
SHOWN = 10


def number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def deviations(stored, made, tolerances, tolerance=0.0, place=""):
    """Yields (place, what differs) for whatever differs by more than it may."""
    if isinstance(stored, dict) and isinstance(made, dict) and stored.keys() == made.keys():
        tolerances = tolerances | stored.get("tolerances", {})
        for key in stored:
            allowed = tolerances.get(key, tolerance)
            yield from deviations(stored[key], made[key], tolerances, allowed, f"{place}.{key}")
    elif isinstance(stored, list) and isinstance(made, list) and len(stored) == len(made):
        for index, (one, other) in enumerate(zip(stored, made)):
            yield from deviations(one, other, tolerances, tolerance, f"{place}[{index}]")
    elif number(stored) and number(made):
        if not abs(stored - made) <= tolerance:
            yield place, f"stored {stored!r}, made {made!r}, allowed difference {tolerance}"
    elif stored != made or type(stored) is not type(made):
        yield place, f"stored {str(stored)[:120]}, made {str(made)[:120]}"


def remade(name, folder):
    """Whether the reference came out as stored; says what did not."""
    done = subprocess.run([sys.executable, HERE / f"{name}.py", "--out", folder], stdout=subprocess.DEVNULL)
    if done.returncode != 0:
        print(f"{name}: the script ended with {done.returncode}", file=sys.stderr)
        return False
    stored, made = (json.loads((at / f"{name}.json").read_text(encoding="utf-8")) for at in (HERE, Path(folder)))
    found = list(deviations(stored, made, {}))
    for place, what in found[:SHOWN]:
        print(f"{name}{place}: {what}", file=sys.stderr)
    if len(found) > SHOWN:
        print(f"{name}: and {len(found) - SHOWN} more", file=sys.stderr)
    print(f"{name}: {'as stored' if not found else f'{len(found)} deviations'}")
    return not found


def main():
    with tempfile.TemporaryDirectory() as folder:
        results = [remade(name, folder) for name in NAMES]
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
