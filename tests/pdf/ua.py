#!/usr/bin/env python3
"""Checks files against PDF/UA-1 (ISO 14289-1) with PyPI `page-validation`.

Usage: ua.py FILE...; ends with 1 if a file does not conform.
"""

import sys

from page import ValidationProfile, validate_pdf


def main():
    bad = 0
    for path in sys.argv[1:]:
        report = validate_pdf(path, profile=ValidationProfile.PDF_UA_1)
        print(path, report)
        bad += not report.is_compliant
    sys.exit(1 if bad else 0)


main()
