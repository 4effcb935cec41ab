#!/usr/bin/env python3
"""A rule: an invented index, rebound travel over heel compression, in per cent.

Reads JSON lines on standard input, answers JSON lines on standard output; what it
has to say to people goes to standard error. Standard library only.

Its uncertainty is that of a
quotient of two uncorrelated values (JCGM 100:2008, 5.1.2): relative standard
uncertainties add in quadrature.
"""

import json
import math
import sys


def answer(shoe, unit):
    facts = shoe["facts"]
    sunk, back = facts["heel-compression"], facts["rebound-travel"]
    if sunk["unit"] != back["unit"]:
        raise SystemExit(f"{shoe['shoe']}: the two travels are in different units")
    if sunk["value"] <= 0:
        return {"none": "the heel did not sink"}
    ratio = back["value"] / sunk["value"]
    relative = math.hypot(sunk["u"] / sunk["value"], back["u"] / back["value"])
    if ratio > 5:
        print(f"{shoe['shoe']}: an index of {ratio:.1f} is beyond all others", file=sys.stderr)
    return {"value": 100 * ratio, "u": 100 * ratio * relative, "unit": unit}


def main():
    head = json.loads(sys.stdin.readline())
    if head["solefolio"] != 1 or head["purpose"] != "rule":
        raise SystemExit(f"this program doesn't know lines of form {head['solefolio']}")
    for line in sys.stdin:
        shoe = json.loads(line)
        said = answer(shoe, head["unit"])
        # Flushed, so that a later failure is told of the shoe it happened at.
        print(json.dumps({"shoe": shoe["shoe"], **said}, allow_nan=False), flush=True)


if __name__ == "__main__":
    main()
