"""Prints values and times side by side as Markdown. Usage: table.py FOLDER"""
import json, pathlib, sys

folder = pathlib.Path(sys.argv[1]) / "results"
ours, theirs = {}, {}
for line in open(folder / "wearbook.jsonl"):
    row = json.loads(line)
    ours[row["case"], row["method"]] = row
for file, default in (("r.jsonl", "R survival"), ("numpy.jsonl", None), ("lifelines.jsonl", "lifelines")):
    for line in open(folder / file):
        row = json.loads(line)
        theirs.setdefault((row["case"], row["method"]), {})[row.get("peer") or default] = row

PEERS = ("R survival", "numpy", "scipy", "lifelines")


def short(seconds):
    return f"{seconds * 1e6:.3g} us" if seconds < 1e-3 else f"{seconds * 1e3:.3g} ms"


worse, lost, curves = [], [], []
print("| lives | model | log-likelihood here | largest excess elsewhere | one fit here | " + " | ".join(PEERS) + " |")
print("| --- | --- | --- | --- | --- |" + " --- |" * len(PEERS))
for (case, method), row in ours.items():
    peers = theirs.get((case, method), {})
    if method in ("kaplan-meier", "turnbull"):
        for peer, other in peers.items():
            if "survival" in other and "survival" in row:
                curves.append(abs(other["survival"] - row["survival"]))
    cells, excess = [], None
    for peer in PEERS:
        other = peers.get(peer)
        if other is None:
            cells.append("")
        elif "error" in other:
            cells.append("fails")
        else:
            factor = f" ({other['seconds'] / row['seconds']:.0f}x)" if "seconds" in row else ""
            cells.append(short(other["seconds"]) + factor)
            if "error" in row:
                lost.append((case, method, peer, row["error"]))
            elif other.get("log_likelihood") is not None and row.get("log_likelihood") is not None:
                gap = other["log_likelihood"] - row["log_likelihood"]
                excess = gap if excess is None else max(excess, gap)
                if gap > 1e-9 * abs(row["log_likelihood"]):
                    worse.append((case, method, peer, gap))
    value = row.get("log_likelihood")
    print(f"| {case} | {method} | {'' if value is None else f'{value:.9g}'} | {'' if excess is None else f'{excess:.1e}'} | "
          f"{short(row['seconds']) if 'seconds' in row else row['error']} | " + " | ".join(cells) + " |")
print()
print(f"Log-likelihood higher elsewhere by more than 1e-9 of itself: {len(worse)}", *worse, sep="\n- ")
print(f"Converges elsewhere and not here: {len(lost)}", *lost, sep="\n- ")
print(f"Largest difference of the end of a survival curve: {max(curves, default=0):.1e} over {len(curves)} comparisons")

print()
print("| against | model | fits compared | least | median | most |")
print("| --- | --- | --- | --- | --- | --- |")
ratios = {}
for key, row in ours.items():
    for peer, other in theirs.get(key, {}).items():
        if "seconds" in row and "seconds" in other:
            ratios.setdefault((peer, key[1]), []).append(other["seconds"] / row["seconds"])
for (peer, method), values in sorted(ratios.items()):
    values.sort()
    print(f"| {peer} | {method} | {len(values)} | {values[0]:.3g} x | {values[len(values) // 2]:.3g} x | {values[-1]:.3g} x |")
