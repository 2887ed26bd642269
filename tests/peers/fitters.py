"""Fits the files of a folder with lifelines. Usage: fitters.py FOLDER"""
import csv, json, math, pathlib, sys, time, warnings
import numpy as np
import lifelines as ll

warnings.simplefilter("ignore")
folder = pathlib.Path(sys.argv[1])
out = open(folder / "results" / "lifelines.jsonl", "w")
put = lambda **row: out.write(json.dumps(row) + "\n")
FITTERS = {"weibull": ll.WeibullFitter, "exponential": ll.ExponentialFitter, "lognormal": ll.LogNormalFitter,
           "loglogistic": ll.LogLogisticFitter}


def seconds_of(run):
    best = math.inf
    for _ in range(3):
        start = time.process_time(); run(); best = min(best, time.process_time() - start)
    return best


for path in sorted(folder.glob("*.csv")):
    name = path.stem
    if name == "groups":
        continue
    with open(path) as file:
        rows = list(csv.DictReader(file))
    entry = np.array([float(r["entry"]) for r in rows])
    lower = np.array([float(r["lower"]) for r in rows])
    upper = np.array([float(r["upper"]) if r["upper"] else math.inf for r in rows])
    count = np.array([float(r["count"]) for r in rows])
    if len(lower) > 2000:
        continue
    failed = np.isfinite(upper)
    exact = not ((upper != lower) & failed).any()
    late = (entry > 0).any()
    for method, fitter in FITTERS.items():
        def run():
            f = fitter()
            kw = dict(weights=count)
            if late:
                kw["entry"] = entry
            if exact:
                f.fit(lower, failed, **kw)
            else:
                f.fit_interval_censoring(lower, upper, **kw)
            return f
        try:
            f = run()
            put(case=name, method=method, log_likelihood=float(f.log_likelihood_), parameters=[float(p) for p in f.params_.values],
                seconds=seconds_of(run))
        except Exception as error:
            put(case=name, method=method, error=str(error).splitlines()[0][:120])
    if exact:
        def run():
            return ll.KaplanMeierFitter().fit(lower, failed, entry=entry if late else None, weights=count)
        try:
            f = run()
            put(case=name, method="kaplan-meier", survival=float(f.survival_function_.values[-1, 0]), seconds=seconds_of(run))
        except Exception as error:
            put(case=name, method="kaplan-meier", error=str(error).splitlines()[0][:120])
out.close()
