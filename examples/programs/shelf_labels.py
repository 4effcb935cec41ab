#!/usr/bin/env python3
"""An output: a shelf label for each shoe, as plain text and as a picture (SVG).

Reads a head and one review's view a line on standard input (`solefolio schema
view-review`), answers one file a line. Standard library only.
"""

import base64
import html
import json
import sys


def bands(view):
    for finding in view["lead"]:
        says = finding["says"]
        yield finding["label"], says["band"] if says else "not judged"


def text(view):
    lines = [view["shoe"]["title"], view["suits"], ""]
    lines += [f"{label}: {band}" for label, band in bands(view)]
    lines += ["", view["site"]["caution"]]
    return "\n".join(lines) + "\n"


def picture(view):
    rows = []
    for at, (label, band) in enumerate(bands(view)):
        row = html.escape(f"{label}: {band}")
        rows.append(f'<text x="12" y="{64 + 24 * at}" font-size="16">{row}</text>')
    title = html.escape(view["shoe"]["title"])
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400" height="200" '
        f'viewBox="0 0 400 200" role="img"><title>{title}</title>'
        f'<text x="12" y="32" font-size="20">{title}</text>{"".join(rows)}</svg>\n'
    )


def main():
    head = json.loads(sys.stdin.readline())
    if head["solefolio"] != 1 or head["purpose"] != "output" or head["views"] != 1:
        raise SystemExit("this program doesn't know lines or views of this form")
    for line in sys.stdin:
        told = json.loads(line)
        view, address = told["view"], told["of"]
        svg = base64.b64encode(picture(view).encode()).decode()
        print(json.dumps({"path": f"{address}.txt", "text": text(view)}))
        print(json.dumps({"path": f"{address}.svg", "base64": svg}))


if __name__ == "__main__":
    main()
