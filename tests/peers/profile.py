"""A plain numpy solution of the Weibull profile equation, and scipy's own fits. Usage: profile.py FOLDER"""
import csv, json, math, pathlib, sys, time, warnings
import numpy as np
from scipy import stats

folder = pathlib.Path(sys.argv[1])
out = open(folder / "results" / "numpy.jsonl", "w")
put = lambda **row: out.write(json.dumps(row) + "\n")


def seconds_of(run, least=0.2):
    start = time.process_time(); run(); once = max(time.process_time() - start, 1e-6)
    times = max(1, min(2000, round(least / once)))
    best = math.inf
    for _ in range(3):
        start = time.process_time()
        for _ in range(times):
            run()
        best = min(best, (time.process_time() - start) / times)
    return best


def profile(t, failed, weight):
    """Newton's method on the profile equation of the shape, on usages divided by their largest."""
    largest = t.max()
    y = np.log(t / largest)
    r = (weight * failed).sum()
    mean = (weight * failed * y).sum() / r
    spread = math.sqrt(max((weight * failed * (y - mean) ** 2).sum() / r, 1e-12))
    b = 1.2 / spread
    for _ in range(100):
        power = weight * np.exp(b * y)
        s0, s1, s2 = power.sum(), (power * y).sum(), (power * y * y).sum()
        score = 1 / b + mean - s1 / s0
        step = score / (1 / b**2 + s2 / s0 - (s1 / s0) ** 2)
        new = b + step
        b = new if new > 0 else b / 2
        if abs(step) < 1e-10 * b:
            break
    s0 = (weight * np.exp(b * y)).sum()
    scale = largest * (s0 / r) ** (1 / b)
    z = b * np.log(t / scale)
    value = (weight * (failed * (math.log(b) - np.log(t) + z) - np.exp(z))).sum()
    return b, scale, value


def read(path):
    with open(path) as file:
        rows = list(csv.DictReader(file))
    entry = np.array([float(r["entry"]) for r in rows])
    lower = np.array([float(r["lower"]) for r in rows])
    upper = np.array([float(r["upper"]) if r["upper"] else math.inf for r in rows])
    return entry, lower, upper, np.array([float(r["count"]) for r in rows]), np.array([int(r["group"]) for r in rows])


for path in sorted(folder.glob("*.csv")):
    name = path.stem
    entry, lower, upper, count, group = read(path)
    failed = np.isfinite(upper).astype(float)
    if (entry > 0).any() or ((upper != lower) & (failed > 0)).any() or failed.sum() == 0:
        continue
    if name == "groups":
        parts = [(lower[group == g], failed[group == g], count[group == g]) for g in np.unique(group)]
        run = lambda: sum(profile(*part)[2] for part in parts)
        put(case=name, method="weibull", peer="numpy", log_likelihood=run(), seconds=seconds_of(run))
        continue
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shape, scale, value = profile(lower, failed, count)
    put(case=name, method="weibull", peer="numpy", log_likelihood=value, parameters=[scale, shape],
        seconds=seconds_of(lambda: profile(lower, failed, count)))
    if (count == 1).all() and len(lower) <= 2000:
        data = stats.CensoredData(uncensored=lower[failed > 0], right=lower[failed == 0])
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            run = lambda: stats.weibull_min.fit(data, floc=0)
            try:
                shape, _, scale = run()
                value = float(
                    (failed * stats.weibull_min.logpdf(lower, shape, 0, scale) + (1 - failed) * stats.weibull_min.logsf(lower, shape, 0, scale)).sum())
                put(case=name, method="weibull", peer="scipy", log_likelihood=value, parameters=[scale, shape], seconds=seconds_of(run))
            except Exception as error:
                put(case=name, method="weibull", peer="scipy", error=str(error))
out.close()
