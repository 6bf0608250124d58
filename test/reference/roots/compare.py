"""Plans every root folder that make.py wrote and compares with its truth.

compare.py ROOTS [--tool bin/trinadir.mjs] [--again] [--json OUT] [--only 3,5] [--write]   (--write: into docs/methods/root-survey.md)
Errors are measured minus true; percentiles by nearest rank; a stated interval or radius that holds the truth counts as covered.
"""
import json
import subprocess
import sys
from itertools import permutations
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
PAGE = HERE.parents[2] / "docs" / "methods" / "root-survey.md"
BEGIN, END = "<!-- independent roots: made by test/reference/roots/compare.py --write -->", "<!-- end of independent roots -->"
# name, unit, goal (median); the 95th percentile may be twice that
GOALS = [
    ("area", "%", 1.5), ("perimeter", "%", 1.0), ("smallest diameter", "mm", 0.4), ("largest diameter", "mm", 0.4),
    ("tilt", "deg", 1.0), ("nadirs, distance", "mm", 0.8), ("left ostium, height", "mm", 0.5), ("right ostium, height", "mm", 0.5),
    ("junction, height", "mm", 0.5), ("junction, diameter", "mm", 0.5), ("deposits of 20 mm³ and more", "%", 10.0),
]  # fmt: skip


def plan_root(folder, tool, again):
    out = folder / "plan"
    if again or not (out / "answer.json").exists():
        out.mkdir(exist_ok=True)
        command = ["node", str(tool), "plan", str(folder / "dicom"), "--out", str(out / "made"), "--json", "--quiet", "--replace"]
        run = subprocess.run(command, capture_output=True, text=True)
        made = out / "made" / "plan.json"
        plan = json.loads(made.read_text()) if made.exists() and run.returncode == 0 else None
        error = run.stderr.strip().splitlines()[-1] if run.returncode and run.stderr.strip() else ""
        (out / "answer.json").write_text(json.dumps({"exit": run.returncode, "error": error, "plan": plan}))
    return json.loads((out / "answer.json").read_text())


def angle_deg(a, b):
    a, b = np.asarray(a, float), np.asarray(b, float)
    return float(np.degrees(np.arccos(np.clip(a @ b / np.linalg.norm(a) / np.linalg.norm(b), -1, 1))))


def read_code(error):
    try:
        return json.loads(error)["error"]["code"]
    except (ValueError, KeyError, TypeError):
        return "no answer"


def compare_root(truth, answer):
    """Rows {quantity, error, covered} (error None: not answered) and what else is worth saying."""
    rows, notes = [], {}
    plan = answer["plan"]
    root = plan.get("root") if plan else None
    if root is None:
        codes = [m["code"] for m in plan["messages"]] if plan else [read_code(answer["error"])]
        return [], {"refused": codes}
    notes["doubts"] = sorted({r["code"] for f in root["basalRing"].values() if isinstance(f, dict) for r in f.get("reasons", [])})
    notes["messages"] = sorted({m["code"] for m in plan["messages"]})
    notes["scan"] = [f["code"] for f in plan["scan"]["findings"]]

    def add(quantity, error, covered=None, **more):
        rows.append({"quantity": quantity, "error": error, "covered": covered, **more})

    def add_fact(quantity, fact, true, percent=False):
        if fact is None or fact["value"] is None:
            return add(quantity, None)
        off = fact["value"] - true
        add(quantity, 100 * off / true if percent else off, bool(fact["low"] <= true <= fact["high"]))

    ring, true_ring = root["basalRing"], truth["basalRing"]
    add_fact("area", ring["areaMm2"], true_ring["areaMm2"], True)
    add_fact("perimeter", ring["perimeterMm"], true_ring["perimeterMm"], True)
    add_fact("smallest diameter", ring["minDiameterMm"], true_ring["minDiameterMm"])
    add_fact("largest diameter", ring["maxDiameterMm"], true_ring["maxDiameterMm"])
    plane = root["basalPlane"]
    tilt = angle_deg(plane["normalLps"], truth["normalLps"])
    add("tilt", tilt, tilt <= plane["tiltUncertaintyDeg"])
    normal = np.array(truth["normalLps"])
    found, true = plane["nadirsLps"], truth["nadirsLps"]
    best = min(permutations("RLN"), key=lambda p: sum(np.linalg.norm(np.subtract(found[a], true[b])) for a, b in zip("RLN", p)))
    if "".join(best) != "RLN":
        notes["names"] = "".join(best)
    notes["nadirHeights"] = {}
    for name, cusp in zip("RLN", best):
        off = np.subtract(found[name], true[cusp])
        add("nadirs, distance", float(np.linalg.norm(off)), bool(np.linalg.norm(off) <= plane["nadirUncertaintyMm"][name]))
        notes["nadirHeights"][cusp] = round(float(off @ normal), 2)
    for side in ("left", "right"):
        ostium, true_ostium = root["coronaries"].get(side), truth["coronaries"][side]
        add_fact(f"{side} ostium, height", ostium and ostium["heightMm"], true_ostium["heightMm"])
        if ostium:
            notes[f"{side}OstiumOffMm"] = round(float(np.linalg.norm(np.subtract(ostium["ostiumLps"], true_ostium["ostiumLps"]))), 2)
    add_fact("junction, height", root["sinotubularJunction"]["heightMm"], truth["junction"]["heightMm"])
    add_fact("junction, diameter", root["sinotubularJunction"]["diameterMm"], truth["junction"]["diameterMm"])
    calcium = root.get("calcium")
    if calcium:
        add_fact("calcium, whole zone", calcium["volumeMm3"], truth["calcium"]["volumeMm3"], truth["calcium"]["volumeMm3"] > 20)
        add_deposits(add, calcium["deposits"], truth["calcium"]["deposits"], notes)
    by_height = {level["heightMm"]: level["areaMm2"] for level in root["levels"]}
    notes["levels"] = {}
    for height, area in truth["levelAreasMm2"].items():
        fact = by_height.get(float(height))
        if fact and fact["value"] is not None:
            notes["levels"][height] = round(100 * (fact["value"] / area - 1), 2)
    return rows, notes


def add_deposits(add, found, true, notes):
    """Found pieces go to the nearest true deposit (within 6 mm); what lies near none is false."""
    sums, false = [0.0] * len(true), 0.0
    for piece in found:
        away = [np.linalg.norm(np.subtract(piece["centreLps"], d["centreLps"])) for d in true]
        if away and min(away) < 6:
            sums[int(np.argmin(away))] += piece["volumeMm3"]
        else:
            false += piece["volumeMm3"]
    for total, deposit in zip(sums, true):
        if deposit["volumeMm3"] >= 20 and deposit["heightMm"] > -9:
            add("deposits of 20 mm³ and more", 100 * (total / deposit["volumeMm3"] - 1), None, heightMm=round(deposit["heightMm"], 1), volumeMm3=round(deposit["volumeMm3"], 1))
    notes["falseCalciumMm3"] = round(false, 1)


def rank(values, share):
    ordered = sorted(values)
    return ordered[max(0, int(np.ceil(share * len(ordered))) - 1)]


def make_table(all_rows, roots, refused):
    lines = [
        f"{roots} roots, none left out. Refused as a whole: {len(refused)}" + (f" ({', '.join(refused)})." if refused else "."), "",
        "| quantity | unit | n | not answered | median error | 95th percentile | mean error | coverage | goal (median / 95th) | met |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]  # fmt: skip
    for quantity, unit, goal in [*GOALS, ("calcium, whole zone", "%", None)]:
        rows = [r for r in all_rows if r["quantity"] == quantity]
        errors = [r["error"] for r in rows if r["error"] is not None]
        if not errors:
            continue
        sizes = [abs(e) for e in errors]
        covered = [r["covered"] for r in rows if r["covered"] is not None]
        share = 100 * sum(covered) / len(covered) if covered else None
        signed = quantity not in ("tilt", "nadirs, distance")
        misses = [] if goal is None else [
            name for name, bad in (("median", rank(sizes, 0.5) > (goal or 0)), ("95th percentile", rank(sizes, 0.95) > 2 * (goal or 0)), ("coverage", share is not None and share < 90)) if bad
        ]
        met = "–" if goal is None else ("no: " + ", ".join(misses) if misses else "yes")
        lines.append(
            f"| {quantity} | {unit} | {len(errors)} | {len(rows) - len(errors)} | {rank(sizes, 0.5):.2f} | {rank(sizes, 0.95):.2f} | "
            + (f"{np.mean(errors):.2f}".replace("-", "−") if signed else "–")
            + f" | {'–' if share is None else f'{share:.1f} %'} | {'–' if goal is None else f'{goal:g} / {2 * goal:g}'} | {met} |"
        )
    return "\n".join(lines) + "\n"


def main(words):
    options = {}
    for name in ("--tool", "--json", "--only"):
        if name in words:
            at = words.index(name)
            options[name] = words[at + 1]
            del words[at : at + 2]
    again, write = "--again" in words, "--write" in words
    words = [w for w in words if w not in ("--again", "--write")]
    tool = Path(options.get("--tool", HERE.parents[2] / "bin" / "trinadir.mjs"))
    only = options.get("--only", "").split(",") if "--only" in options else None
    all_rows, refused, report = [], [], []
    folders = [f for f in sorted(Path(words[0]).glob("root-*")) if (f / "truth.json").exists() and (only is None or str(int(f.name[5:])) in only)]
    for folder in folders:
        truth = json.loads((folder / "truth.json").read_text())
        answer = plan_root(folder, tool, again)
        rows, notes = compare_root(truth, answer)
        report.append({"root": folder.name, "rows": rows, "notes": notes})
        all_rows += rows
        r = truth["recipe"]
        line = f"{folder.name} {r['section']}/{r['sinuses']}/{r['attachment']}/{r['valve']}/{r['junction']}/{r['outflow']}/{r['calcium']}"
        if "refused" in notes:
            refused.append(f"{folder.name[5:]} {notes['refused'][0]}")
            print(line, "REFUSED", notes["refused"], flush=True)
            continue
        short = {"area": "A%", "perimeter": "P%", "smallest diameter": "min", "largest diameter": "max", "tilt": "tilt", "nadirs, distance": "nad", "left ostium, height": "Lco", "right ostium, height": "Rco", "junction, height": "STJh", "junction, diameter": "STJd", "calcium, whole zone": "Ca", "deposits of 20 mm³ and more": "dep%"}
        parts = [f"{short[w['quantity']]} {'–' if w['error'] is None else format(w['error'], '.2f')}{'!' if w['covered'] is False else ''}" for w in rows]
        print(line, "|", ", ".join(parts), "|", json.dumps(notes), flush=True)
    table = make_table(all_rows, len(folders), refused)
    print(table)
    if "--json" in options:
        Path(options["--json"]).write_text(json.dumps(report, indent=1))
    if write:
        text = PAGE.read_text()
        page_head, rest = text.split(BEGIN)
        PAGE.write_text(page_head + BEGIN + "\n" + table + END + rest.split(END)[1])


if __name__ == "__main__":
    main(sys.argv[1:])
