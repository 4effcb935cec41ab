#!/usr/bin/env python3
"""Writes the views that the print tests set: tests/data/print/*.json, or into the
folder that is named. `tests/print.rs` holds them to the forms of the views.

All of it is made up: laboratory, makers, shoes, readings. `review.json` is an
ordinary review, `hostile.json` one whose every text tries to be markup, to run
off the page or to fill it, `bare.json` one where whatever may be missing is.
"""

import copy
import json
import os
import random
import sys

OUT = sys.argv[1] if len(sys.argv) > 1 else os.path.join(os.path.dirname(__file__), "..", "data", "print")
BANDS = ["very low", "low", "medium", "high", "very high"]


def site(**over):
    return {
        "lab": "Harrow Lane Footwear Laboratory",
        "about": "An invented laboratory. Its makers, shoes and readings were made up.",
        "invented": True, "drafts": False, "language": "en",
        "address": "https://harrow-lane.example/", "folio": "https://harrow-lane.example/", "contact": "desk@harrow-lane.example",
        "licence": {"text": "Creative Commons Attribution 4.0", "href": "https://creativecommons.org/licenses/by/4.0/"},
        "as_of": {"iso": "2026-11-26", "text": "26 November 2026"},
        "protocol_version": 3, "rules_version": 4,
        "caution": "These findings describe shoes, not people, and are no medical advice. With pain, an injury or a condition of the feet, ask a licensed clinician before you change footwear.",
        "pages": [], "paper": "a4", **over,
    }


def head(title, description, root, path):
    return {"title": title, "description": description, "root": root, "top": root, "path": path, "languages": [], "pages": [], "image": None, "linked_data": None}


def figure(number, unit, u=None, also=None):
    return {"number": number, "unit": unit, "U": u, "also": also}


def ruler(at, low, high, index, edges, seed, n=31):
    rng = random.Random(seed)
    ticks = sorted(min(1000, max(0, rng.gauss(480, 190))) for _ in range(n))
    return {
        "bands": [
            {"name": BANDS[i], "from": str(edges[i]), "width": str(edges[i + 1] - edges[i]), "stated": i == index}
            for i in range(5)
        ],
        "at": f"{at:.1f}", "low": f"{low:.1f}", "high": f"{high:.1f}",
        "ticks": [f"{t:.1f}" for t in ticks],
        "description": f"A scale of five bands from very low to very high. This shoe stands at {at / 10:.0f} of 100, in {BANDS[index]}; its interval runs from {low / 10:.0f} to {high / 10:.0f}.",
    }


def band(key, label, value, score, u, index, chance, short, means, seed, borderline=None, edges=(0, 200, 400, 600, 800, 1000), standing=None, provisional=False, by_editor=False):
    return {
        "key": key, "label": label, "not_judged": None,
        "says": {
            "value": value, "score": figure(f"{score:.1f}", "", f"{u:.1f}"), "held": False,
            "band": BANDS[index], "band_index": index, "bands": 5, "chance": chance,
            "borderline": borderline, "provisional": provisional, "short": short, "means": means,
            "means_language": None, "by_editor": by_editor, "standing": standing,
            "ruler": ruler(score * 10, (score - u) * 10, (score + u) * 10, index, edges, seed),
        },
    }


def trials(*numbers, written=None, left_out=None):
    return [
        {"number": n, "written": (written or {}).get(i), "left_out": (left_out or {}).get(i), "left_out_language": None}
        for i, n in enumerate(numbers)
    ]


def quantity(key, label, what, fig, k, dof, instrument, *specimens, **over):
    return {
        "key": key, "label": label, "what": what, "unit": fig["unit"] if fig else None, "figure": fig, "absent": None, "k": k, "dof": dof,
        "n": sum(len(s[2]) for s in specimens), "instrument": instrument,
        "specimens": [
            {"id": s[0], "side": s[1], "trials": s[2], "mean": s[3], "deviation": s[4]} for s in specimens
        ],
        "size_step": None, "pooled": False, **over,
    }


def span(text, **over):
    return {"text": text, "emphasis": False, "strong": False, "code": False, "href": None, **over}


def paragraph(*spans):
    return {"block": "paragraph", "text": [s if isinstance(s, dict) else span(s) for s in spans]}


def doubt(code, message, accepted=None):
    return {"code": code, "message": message, "reason": None, "reason_language": None, "accepted": accepted, "accepted_language": None}


def correction(because, changes):
    return {"on": {"iso": "2026-11-26", "text": "26 November 2026"}, "because": because, "because_language": None, "changes": changes, "versions": "Rule set version 3 → 4; protocol version 2."}


def qr(seed, n=33):
    """A pattern as large as a real code; it stands in for one only as a picture."""
    rng = random.Random(seed)
    rows = [[rng.random() < 0.5 for _ in range(n)] for _ in range(n)]
    for oy, ox in ((0, 0), (0, n - 7), (n - 7, 0)):
        for y in range(-1, 8):
            for x in range(-1, 8):
                if 0 <= oy + y < n and 0 <= ox + x < n:
                    ring = max(abs(y - 3), abs(x - 3))
                    rows[oy + y][ox + x] = ring in (0, 1, 3)
    return ["".join("1" if c else "0" for c in row) for row in rows]


def verdict(key):
    return {"key": key, "words": {"suits": "suits", "close": "may suit", "other": "look elsewhere", "unknown": "not judged"}[key]}


POSTURES = ["Strongly supinated", "Supinated", "Neutral", "Pronated", "Strongly pronated"]


def review():
    slug = "fennick-vale-quarrel-2"
    return {
        "site": site(),
        "head": head("Fennick & Vale Quarrel 2", "Fennick & Vale Quarrel 2 on the bench: torsion medium, heel firmness medium.", "../../", f"shoes/{slug}/"),
        "shoe": {
            "slug": slug, "title": "Fennick & Vale Quarrel 2", "maker": "Fennick & Vale", "model": "Quarrel 2",
            "category": "Road", "category_key": "road", "size": "Mondopoint 270", "reference_size": "Mondopoint 270",
            "price": "135 EUR", "released": "March 2026",
            "published": {"iso": "2026-11-26", "text": "26 November 2026"},
            "week": {"text": "2026-W48", "href": "weeks/2026-w48/"}, "path": f"shoes/{slug}/",
        },
        "suits": "May suit light and middling builds with a neutral foot, for daily miles at an easy to steady pace.",
        "suits_by_editor": False, "suits_language": None,
        "summary": "An even-tempered road shoe for daily miles.",
        "summary_language": None,
        "lead": [
            band("torsion", "Torsion", figure("4.26", "N·m", "0.17", "37.7 in·lbf"), 50.3, 2.1, 2, "over 99 %", "It takes a middling effort to twist.", "The midfoot gives a little when the ground is uneven and still guides the foot. Most feet may find that neither stiff nor loose.", 1, standing="higher than 52 % of 31 road shoes"),
            band("heel-firmness", "Heel firmness", figure("6.11", "mm", "0.12", "0.241 in"), 51.9, 1.6, 2, "over 99 %", "The heel sinks 6.11 mm under load.", "Landing on the heel is cushioned without wallowing. Heavier runners may reach the end of it sooner on long days.", 2, standing="higher than 58 % of 31 road shoes"),
            band("platform", "Platform", None, 51.1, 1.3, 2, "79 %", "Neither a firm nor a loose base.", "Together, twist and heel make a base that may carry light and middling builds; heavy builds may want more.", 3, borderline="low", edges=(0, 300, 500, 700, 900, 1000), standing="higher than 55 % of 31 road shoes"),
            band("rebound", "Rebound", figure("13.27", "mm", "0.21", "0.522 in"), 46.4, 1.1, 2, "over 99 %", "A fair part of the squeeze comes back.", "The foam gives back enough to feel alive at a steady pace, and does not push.", 4, standing="higher than 44 % of 31 road shoes", provisional=True),
            band("lift", "Lift", figure("4.43", "mm", "0.10", "0.174 in"), 29.5, 0.7, 1, "over 99 %", "Little drop is left under load.", "The heel stands 4.43 mm above the forefoot once loaded. Calves and Achilles tendons may have to work more than in a higher shoe.", 5, standing="higher than 26 % of 31 road shoes", by_editor=True),
        ],
        "other": [
            {"key": "pace", "label": "Pace", "not_judged": None, "says": {
                "value": None, "score": figure("48.6", "", "0.9"), "held": False, "band": "daily", "band_index": 1, "bands": 4, "chance": "94 %", "borderline": None, "provisional": False,
                "short": "A shoe for every day.", "means": "Its mass and rebound suit steady miles more than fast ones.", "means_language": None, "by_editor": False, "standing": None,
                "ruler": ruler(486, 477, 495, 2, (0, 200, 400, 600, 800, 1000), 9)}},
        ],
        "values": [
            {"key": "drop-kept", "label": "Drop kept under load", "figure": figure("74", "%", "3"), "not_judged": None, "means": "About three quarters of the drop on the shelf is left when the shoe is loaded.", "means_language": None, "by_editor": False, "provisional": False},
        ],
        "fits": [{
            "key": "builds", "label": "Build and foot posture", "row_label": "Build", "column_label": "Foot posture", "columns": POSTURES, "not_judged": None,
            "rows": [
                {"label": "Light build", "cells": [verdict(k) for k in ("other", "suits", "suits", "close", "other")]},
                {"label": "Middling build", "cells": [verdict(k) for k in ("other", "suits", "suits", "close", "other")]},
                {"label": "Heavy build", "cells": [verdict(k) for k in ("other", "close", "close", "close", "unknown")]},
            ],
        }],
        "advice": [
            {"key": "low-drop", "weight": "caution", "short": "Low drop under load", "text": "Little drop is left when the heel is loaded. Someone used to a higher heel may feel it in the calf and the Achilles tendon; go over to it slowly, and see a licensed clinician if it hurts.", "text_language": None, "by_editor": False, "close": False},
            {"key": "soft-ground", "weight": "note", "short": "Soft ground", "text": "On grass or a forest path the shoe may feel looser than on tar.", "text_language": None, "by_editor": False, "close": True},
        ],
        "alternatives": [
            {"title": "Oske Tarn 3", "path": "shoes/oske-tarn-3/", "difference": "18 g lighter, otherwise alike"},
            {"title": "Marrable Dray", "path": "shoes/marrable-dray/", "difference": "heel firmer by 0.9 mm, otherwise alike"},
            {"title": "Fennick & Vale Lark", "path": "shoes/fennick-vale-lark/", "difference": "1.1 N·m stiffer to twist, otherwise alike"},
        ],
        "alike": [],
        "quantities": [
            quantity("mass", "Mass", "of one shoe, at the reference size", figure("262.3", "g", "1.1", "9.25 oz"), "2.00", "∞", "Scale K2", ("Q2-L", "left", trials("262", "263", "262"), "262.3", "0.6"), ("Q2-R", "right", trials("262", "262", "263"), "262.3", "0.6")),
            quantity("midfoot-torque", "Midfoot torque", "to twist the midfoot by 15°", figure("4.26", "N·m", "0.17", "37.7 in·lbf"), "2.18", "12", "Torque arm T1", ("Q2-L", "left", trials("4.30", "4.29", "4.20", written={1: "38 in·lbf"}), "4.26", "0.06"), ("Q2-R", "right", trials("4.25", "4.28", "4.24"), "4.26", "0.02")),
            quantity("heel-compression", "Heel compression", "travel at 450 N", figure("6.11", "mm", "0.12", "0.241 in"), "2.06", "24", "Press P1", ("Q2-L", "left", trials("6.12", "6.05", "6.17"), "6.11", "0.06"), ("Q2-R", "right", trials("6.10", "6.14", "7.30", left_out={2: "the stamp stood askew, seen on the video"}), "6.12", "0.03")),
            quantity("rebound-travel", "Rebound travel", "after release from 450 N", figure("13.27", "mm", "0.21", "0.522 in"), "2.13", "15", "Press P1", ("Q2-L", "left", trials("13.1", "13.4", "13.3"), "13.27", "0.15")),
            quantity("static-drop", "Static drop", "heel above forefoot, unloaded", figure("6.00", "mm", "0.14", "0.236 in"), "2.00", "∞", "Height gauge H1", ("Q2-L", "left", trials("6.00"), "6.00", None), pooled=True),
            quantity("loaded-drop", "Loaded drop", "heel above forefoot at 450 N", figure("4.43", "mm", "0.10", "0.174 in"), "2.04", "34", "Height gauge H1", ("Q2-L", "left", trials("4.4", "4.5", "4.4"), "4.43", "0.06")),
            {**quantity("energy-return", "Energy return", "from the heel's load–travel curve", None, None, None, "Press P1"), "unit": "%", "absent": "it was not measured"},
        ],
        "curves": [{
            "label": "Heel load against travel", "specimen": "Q2-L",
            "loading": "M0 400C120 380 240 340 340 250S470 90 560 20",
            "unloading": "M560 20C480 140 420 250 330 310S150 390 40 400",
            "x_ticks": [{"at": str(i * 88), "text": str(i)} for i in range(7)],
            "y_ticks": [{"at": str(400 - i * 84), "text": str(i * 100)} for i in range(5)],
            "x_label": "travel (mm)", "y_label": "load (N)",
            "figures": [["Energy in", figure("1.18", "J", "0.05")], ["Energy back", figure("0.79", "J", "0.04")], ["Energy lost", figure("0.39", "J", "0.03")], ["Energy return", figure("67", "%", "3")], ["Secant stiffness", figure("73.6", "N/mm", "1.9")]],
            "description": "A loop of load against travel: loading rises to 450 N at 6.1 mm, unloading runs below it.",
        }],
        "sessions": [
            {"specimen": "Q2-L", "side": "left", "on": {"iso": "2026-11-18", "text": "18 November 2026"}, "operator": "Ivo Brandt", "temperature": "22.8 °C", "humidity": "48 %", "soaked": "14 h", "bought": "bought in a shop on 2 October 2026"},
            {"specimen": "Q2-R", "side": "right", "on": {"iso": "2026-11-19", "text": "19 November 2026"}, "operator": "Mara Quill", "temperature": "23.1 °C", "humidity": "51 %", "soaked": "16 h", "bought": "bought in a shop on 2 October 2026"},
        ],
        "doubts": [
            doubt("calibration-overdue", "The calibration of Press P1 was due on 1 November 2026, 17 days before the session.", "checked against the control shoe on the same day; within 0.3 %"),
            doubt("left-out", "Heel compression, Q2-R, trial 3 (7.30 mm) is left out: the stamp stood askew, seen on the video."),
        ],
        "corrections": [
            correction("Torsion points above 45 in·lbf moved after the autumn control measurements.", ["Torsion: high → medium", "Platform: high → medium, borderline"]),
        ],
        "review_html": "<p>…</p>",
        "review_language": None,
        "review_blocks": [
            {"block": "heading", "level": 1, "text": [span("On the road")]},
            paragraph("The Quarrel has been the plain one of its family since the first version, and the second keeps to it. ", span("Nothing about it shouts.", emphasis=True), " The upper is a single knit with two welds at the lace row; the tongue stays where it is put."),
            paragraph("On wet paving the outsole held better than the bench could show, ", span("though we did not measure grip", strong=True), ". Laces come undone less often than those of the first version. See ", span("how we measure", href="https://harrow-lane.example/method/"), "."),
            {"block": "list", "numbered": False, "start": 1, "items": [[paragraph("two lace lengths in the box")], [paragraph("removable footbed, 4 mm")], [paragraph("reflective print on the heel, ", span("code R-2", code=True))]]},
            {"block": "quote", "blocks": [paragraph("It is the shoe I stop thinking about after the first mile, said one of our carriers.")]},
        ],
        "pdf": f"shoes/{slug}/review.pdf", "data": f"shoes/{slug}/data.json", "bench": None, "withdrawn": None,
        "qr": qr(7),
    }


HOSTILE = '#panic("x") $x^2$ *b* _i_ @ref <lab> \\ back ` ] [ } { ~ -- --- ... "q" \'s // no comment /* nor this */ = h + i - j / k'
LONG = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft" * 3


def hostile():
    v = review()
    slug = "hostile-1"
    mixed = "👟🏽 shoe, 靴 shoe, مرحبا بالعالم, שלום עולם, \u202eturned\u202c, tab\there, bell\u0007, nul\u0000, zero\u200bwidth, é combining e\u0301, ﷺ, 𝔘, \ue000 private"
    v["site"] = site(paper="us-letter", drafts=True, lab="Lab #1 *bold* <script>alert(1)</script> & Söhne")
    v["head"] = head(HOSTILE, HOSTILE, "../../", f"shoes/{slug}/")
    v["shoe"].update(slug=slug, title=f"#Maker $ {HOSTILE[:30]}", maker="#Maker $ & \\Sons", model="Mo*del_ @2 <b> " + "W" * 90, price=None, released=None, published=None, week=None, path=f"shoes/{slug}/")
    v["suits"] = HOSTILE
    v["summary"] = mixed
    v["lead"][0]["says"]["means"] = HOSTILE + " " + LONG
    v["lead"][1] = {"key": "heel-firmness", "label": "Heel #firmness", "not_judged": "heel-compression was not measured: " + HOSTILE, "says": None}
    v["lead"][2]["says"]["short"] = mixed
    v["advice"][0]["text"] = HOSTILE
    v["values"][0].update(figure=None, not_judged="static-drop was not measured", means=None)
    v["alternatives"] = []
    v["curves"][0].update(loading="M0 0'/><script>", label=HOSTILE)
    v["doubts"] = [doubt("x", f"{HOSTILE} {i}", mixed if i % 2 else None) for i in range(4)]
    v["corrections"] = [
        correction(f"reason {i} #{i}", [f"Torsion: high → medium {j}" for j in range(9)]) for i in range(12)
    ]
    deep = paragraph("at the bottom")
    for _ in range(40):
        deep = {"block": "quote", "blocks": [deep]}
    v["review_blocks"] = [
        {"block": "heading", "level": 3, "text": [span(HOSTILE)]},
        paragraph(HOSTILE), paragraph(mixed), paragraph(LONG),
        deep,
        {"block": "code", "text": "#let x = 1\n\tindented ```\n" + "y" * 300},
        {"block": "rule"},
        paragraph(span("bad link", href="javascript:alert(1)"), span(" good link", href="https://harrow-lane.example/?a=b#c")),
        {"block": "list", "numbered": True, "start": 1, "items": [[], [paragraph("one"), {"block": "code", "text": "two"}]]},
        *[paragraph(f"Paragraph {i}. " + "The text goes on and on, and no page can hold it all. " * 40) for i in range(30)],
    ]
    return v


def bare():
    v = review()
    v["site"] = site(invented=False, contact="", language="de-AT")
    v["shoe"].update(price=None, released=None, published=None, week=None)
    v.update(summary=None, other=[], values=[], fits=[], advice=[], alternatives=[], quantities=[], curves=[], sessions=[], doubts=[], corrections=[], review_html=None, review_blocks=[], pdf=None, qr=[])
    for f in v["lead"]:
        f.update(says=None, not_judged="no reading passed the screening")
    return v


def guide(n):
    rng = random.Random(n)
    makers = ["Fennick & Vale", "Oske", "Marrable", "Tollard", "Hythe Works"]
    names = ["Quarrel", "Tarn", "Dray", "Lark", "Mere", "Stoat", "Wether", "Pike", "Fallow", "Garth"]
    categories = ["Road", "Trail", "Court", "Walking"]
    keys = ["suits", "close", "other"]
    shoes = []
    for i in range(n):
        maker, model = makers[i % 5], f"{names[i % 10]} {1 + i // 10}"
        category = categories[i * 4 // n]
        unknown = i % 17 == 16
        draw = lambda: verdict("unknown" if unknown else rng.choice(keys))
        slug = f"{maker}-{model}".lower().replace(" & ", "-").replace(" ", "-")
        shoes.append({
            "shoe": {**review()["shoe"], "slug": slug, "title": f"{maker} {model}", "maker": maker, "model": model, "category": category, "category_key": category.lower(), "path": f"shoes/{slug}/"},
            "rows": [draw() for _ in range(3)], "columns": [draw() for _ in range(5)],
            "pace": {"key": "pace", "label": "Pace", "band": None if unknown else ["easy", "daily", "tempo", "race"][i % 4], "band_index": None if unknown else i % 4, "bands": 4, "score": None if unknown else str(20 + i % 60), "borderline": i % 5 == 0},
            "cautions": [c for c, p in (("low drop under load", 4), ("firm landing", 5), ("heel sinks under load", 7)) if i % p == 0],
        })
    return {
        "site": site(), "head": head("Fit guide", "Which measured shoe may suit which build and foot posture.", "../", "guide/"),
        "row_label": "Build", "rows": ["Light build", "Middling build", "Heavy build"],
        "column_label": "Foot posture", "columns": POSTURES, "shoes": shoes,
        "questions": ["What do you run on, how far, and how often?", "Which shoe do you wear now, and what would you change about it?", "Do you have pain, or had an injury in the last year?", "Has anyone looked at your foot posture, and what did they say?", "Do you wear an insert of your own?"],
        "refer": ["Pain that is there at rest or at night, or that gets worse.", "Numbness, swelling, a wound or a change of colour on the foot.", "Diabetes, loss of feeling or poor circulation in the feet.", "A foot that has changed its shape, or one unlike the other.", "A recent operation or a stress fracture."],
        "pdf": "guide/guide.pdf", "pdf_large": "guide/guide-large.pdf", "stock": "Corner Shop, Mill Street", "not_measured": ["Pellow Strand", "Oske Holt (2024)", "#unknown *shoe*"],
        "qr": qr(3),
    }


def week():
    reviews = []
    for i, (maker, model) in enumerate([("Fennick & Vale", "Quarrel 2"), ("Oske", "Tarn 3"), ("Marrable", "Dray"), ("#Maker", "$Model*")]):
        r = copy.deepcopy(review())
        slug = f"shoe-{i}"
        r["shoe"].update(slug=slug, title=f"{maker} {model}", maker=maker, model=model, path=f"shoes/{slug}/")
        r["head"].update(title=f"{maker} {model}", path=f"shoes/{slug}/")
        r["qr"] = qr(i)
        reviews.append(r)
    entry = lambda r: {
        "shoe": r["shoe"], "suits": r["suits"], "suits_language": None, "summary": r["summary"], "summary_language": None, "withdrawn": False,
        "bands": [{"key": f["key"], "label": f["label"], "band": f["says"]["band"], "band_index": f["says"]["band_index"], "bands": 5, "score": f["says"]["score"]["number"], "borderline": f["says"]["borderline"] is not None} for f in r["lead"]],
    }
    link = {"name": "2026-W48", "days": "23 to 29 November 2026", "path": "weeks/2026-w48/", "shoes": len(reviews)}
    return {
        "week": {
            "site": site(), "head": head("Week 48 of 2026", "The reviews of week 48 of 2026.", "../../", "weeks/2026-w48/"),
            "week": link, "shoes": [entry(r) for r in reviews], "previous": None, "next": None, "pdf": "weeks/2026-w48/week.pdf", "measured": f"{len(reviews)} shoes were measured and reviewed.",
        },
        "reviews": reviews,
    }


def main():
    os.makedirs(OUT, exist_ok=True)
    views = {"review": review(), "hostile": hostile(), "bare": bare(), "guide-10": guide(10), "guide-40": guide(40), "guide-120": guide(120), "week": week()}
    for name, view in views.items():
        with open(os.path.join(OUT, name + ".json"), "w", encoding="utf-8") as file:
            json.dump(view, file, ensure_ascii=False, indent=1)
            file.write("\n")


main()
