"""The same figures in lifelines, for benches/survival.rs.

Arguments: the folder with the tables, the age at which answers are compared. Prints NAME, PEER,
SECONDS, FIGURE and TOLERANCE, tab between.
"""
import sys
import time
import warnings

warnings.filterwarnings("ignore")
try:
    import pandas as pd
    from lifelines import KaplanMeierFitter
except ImportError as error:
    print(f"SKIPPED lifelines: {error}")
    sys.exit(0)

folder, at = sys.argv[1], float(sys.argv[2])


def report(name, tolerance, work):
    start = time.perf_counter()
    figure = work()
    print(f"{name}\tlifelines\t{time.perf_counter() - start!r}\t{float(figure)!r}\t{tolerance}", flush=True)


large = pd.read_csv(f"{folder}/large.csv")
report("survival", 1e-9, lambda: KaplanMeierFitter().fit(large["time"], large["status"] > 0).predict(at))
# Its Aalen-Johansen moves tied ages apart by chance, so it gives another answer and is left out.


def between(rows):
    looks = pd.read_csv(f"{folder}/looks_{rows}.csv")
    fitted = KaplanMeierFitter().fit_interval_censoring(looks["left"], looks["right"])
    # A lower and an upper line, each with gaps where the other steps.
    return fitted.survival_function_.sort_index().ffill().asof(at).mean()


# Its search stops early and it draws another line through a stretch, so answers are near, not equal.
report("looks 1000", 0.03, lambda: between(1000))
report("looks 10000", 0.03, lambda: between(10000))
