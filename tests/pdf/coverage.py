#!/usr/bin/env python3
"""Writes templates/print/lib/coverage.typ: the characters that Typst's embedded
fonts can show, and those that the serif shows in each of its cuts. A letter and
its marks are set in one font, so a mark can be shown only where one font has all
of them; the serif's are told, the others' are not relied on.

A PDF/UA-1 file may not hold a character without a glyph, so Typst refuses a
sheet with one. The print templates therefore look every text up in this table
and show what is not in it by its code point.

Usage: coverage.py FONTS OUT, where FONTS is the folder `files/fonts` of the
crate `typst-assets` in the Typst version the lab uses. Needs PyPI `fonttools`.
"""

import os
import sys
import unicodedata

from fontTools.ttLib import TTFont

# Fonts that `typst fonts --ignore-system-fonts` lists; the folder holds more.
FAMILIES = ("Libertinus", "NewCM", "DejaVuSansMono")


def shown(fonts):
    """Every code point that has a glyph and may stand in running text."""
    points = set()
    for name in sorted(os.listdir(fonts)):
        if name.startswith(FAMILIES) and name.endswith((".otf", ".ttf")):
            points.update(TTFont(os.path.join(fonts, name)).getBestCmap())
    # Controls, surrogates and private use never print, whatever a font says.
    return sorted(p for p in points if unicodedata.category(chr(p)) not in ("Cc", "Cs", "Co"))


def in_serif(fonts):
    """Every code point that every cut of the serif has a glyph for."""
    cuts = [
        set(TTFont(os.path.join(fonts, name)).getBestCmap())
        for name in sorted(os.listdir(fonts))
        if name.startswith("LibertinusSerif-")
    ]
    return sorted(set.intersection(*cuts))


def classes(points):
    """Code points as the inside of a regular expression's brackets."""
    return "".join(
        f"\\x{{{a:x}}}" if a == b else f"\\x{{{a:x}}}-\\x{{{b:x}}}" for a, b in ranges(points)
    )


def ranges(points):
    """Neighbouring code points as pairs of first and last."""
    pairs = []
    for point in points:
        if pairs and pairs[-1][1] == point - 1:
            pairs[-1][1] = point
        else:
            pairs.append([point, point])
    return pairs


def main():
    fonts, out = sys.argv[1:]
    with open(out, "w", encoding="utf-8") as file:
        file.write("// Made by tests/pdf/coverage.py from the fonts embedded in Typst 0.15.1; not edited by hand.\n\n")
        file.write("/// A character that none of Typst's embedded fonts can show.\n")
        file.write(f"#let missing = regex(`[^{classes(shown(fonts))}]`.text)\n\n")
        file.write("/// A character that some cut of the serif lacks.\n")
        file.write(f"#let elsewhere = regex(`[^{classes(in_serif(fonts))}]`.text)\n")


main()
