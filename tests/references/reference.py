"""How is a reference stored? A header that says what made it, then the data, one row a line.

Every script that stores one holds `make() -> dict` and ends in `run(__file__, make)`, so that all take `--out`.
"""

import argparse
import importlib.metadata
import json
from pathlib import Path

HERE = Path(__file__).parent
#: A container below this depth, or no longer than this, is written on one line.
ONE_LINE_DEPTH, ONE_LINE_LENGTH = 4, 160


def version(*packages):
    """`package version` of each, as installed."""
    return ", ".join(f"{name} {importlib.metadata.version(name)}" for name in packages)


def text(value, depth=0):
    """JSON with a line for each row; floats as the shortest text that reads back to the same bits."""
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    numbers = isinstance(value, list) and not any(isinstance(item, (dict, list)) for item in value)
    if not isinstance(value, (dict, list)) or numbers or depth >= ONE_LINE_DEPTH or len(flat) <= ONE_LINE_LENGTH:
        return flat
    inner, outer = " " * (depth + 1), " " * depth
    if isinstance(value, dict):
        items = [f"{inner}{json.dumps(key)}: {text(item, depth + 1)}" for key, item in value.items()]
        return "{\n" + ",\n".join(items) + f"\n{outer}}}"
    return "[\n" + ",\n".join(inner + text(item, depth + 1) for item in value) + f"\n{outer}]"


def run(script, make, options=()):
    """Writes `<script>.json` beside the script, or into `--out`. `options` are extra (flag, default, help)."""
    parser = argparse.ArgumentParser(description=make.__doc__)
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write into")
    for flag, default, help_text in options:
        parser.add_argument(flag, type=type(default), default=default, help=help_text)
    arguments = vars(parser.parse_args())
    path = arguments.pop("out") / Path(script).with_suffix(".json").name
    path.write_text(text(make(**arguments)) + "\n", encoding="utf-8")
    print(path.name)
