"""Computes the example answers of this folder a second time, in plain Python: definitions written
out, exact binomial sums and bisection where a library would be used. Run: python3 answers.py"""

import json
import math
from fractions import Fraction
from statistics import NormalDist

Z = NormalDist().inv_cdf(0.975)


def table(name):
    lines = open(name).read().split()
    header = lines[0].split(",")
    return [dict(zip(header, line.split(","))) for line in lines[1:]]


def write(name, answer):
    with open(name, "w") as file:
        json.dump(answer, file, indent=1)
        file.write("\n")


def bisect(function, low, high):
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) > 0 else (low, middle)
    return (low + high) / 2


def wilson(x, n):
    p = x / n
    centre, half = p + Z * Z / 2 / n, Z * math.sqrt(p * (1 - p) / n + Z * Z / 4 / n / n)
    return [(centre - half) / (1 + Z * Z / n), (centre + half) / (1 + Z * Z / n)]


def at_least(k, n, p):
    return math.fsum(math.comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k, n + 1))


def clopper_pearson(k, n):
    lower = bisect(lambda p: 0.025 - at_least(k, n, p), 0, 1)
    upper = bisect(lambda p: (1 - at_least(k + 1, n, p)) - 0.025, 0, 1)
    return [lower, upper]


def proportion():
    groups, notes = {}, []
    rows = table("proportion.csv")
    for label in ["north", "south"]:
        pairs = [(int(r["k"]), int(r["n"])) for r in rows if r["group"] == label]
        k, n, m = sum(a for a, _ in pairs), sum(b for _, b in pairs), len(pairs)
        p = k / n
        v = m / (m - 1) * sum((a - p * b) ** 2 for a, b in pairs) / n**2
        deff = v / (p * (1 - p) / n)
        n_eff = n / max(deff, 1)
        clustered = {"deff": deff, "n_eff": n_eff, "wilson": wilson(p * n_eff, n_eff)}
        groups[label] = {"k": k, "n": n, "estimate": p, "wilson": wilson(k, n), "clopper_pearson": clopper_pearson(k, n), "clustered": clustered}
        notes.append(f"{label}: only {m} clusters: their differences are poorly known")
    a, b = groups["north"], groups["south"]
    d = a["estimate"] - b["estimate"]
    low = d - math.hypot(a["estimate"] - a["wilson"][0], b["wilson"][1] - b["estimate"])
    high = d + math.hypot(a["wilson"][1] - a["estimate"], b["estimate"] - b["wilson"][0])
    notes.append("difference: north minus south")
    write("proportion.answer.json", {"level": 0.95, "groups": groups, "difference": {"estimate": d, "newcombe": [low, high]}, "notes": notes})


def cases(name, event):
    expanded = []
    for row in table(name):
        one = (row["group"], float(row.get("entry", "-inf")), float(row["time"]), int(row[event]))
        expanded += [one] * int(row["weight"])
    return expanded


def curve(rows):
    c = {k: [] for k in ["time", "n_risk", "n_event", "n_censor", "surv", "greenwood_se_surv", "na_cumhaz", "na_se_cumhaz"]}
    for kind in ["plain", "log", "loglog"]:
        c[f"ci_{kind}_lower"], c[f"ci_{kind}_upper"] = [], []
    s, green, h, var = Fraction(1), Fraction(0), 0.0, 0.0
    for t in sorted({r[2] for r in rows}):
        n = sum(r[1] < t <= r[2] for r in rows)
        d = sum(r[2] == t and r[3] == 1 for r in rows)
        s *= Fraction(n - d, n)
        green += Fraction(d, n * (n - d)) if d < n else 0
        h, var = h + d / n, var + d / n**2
        S, sigma = float(s), math.sqrt(green)
        for key, value in zip(c, [t, n, d, sum(r[2] == t and r[3] != 1 for r in rows), S, S * sigma, h, math.sqrt(var)]):
            c[key].append(value)
        none = s in (0, 1)
        if s == 0:
            c["greenwood_se_surv"][-1] = None
        spread = None if none else Z * sigma / abs(math.log(S))
        limits = {
            "plain": None if none else [max(S - Z * S * sigma, 0), min(S + Z * S * sigma, 1)],
            "log": None if none else [S * math.exp(-Z * sigma), min(S * math.exp(Z * sigma), 1)],
            "loglog": None if none else [S ** math.exp(spread), S ** math.exp(-spread)],
        }
        for kind, limit in limits.items():
            c[f"ci_{kind}_lower"].append(limit and limit[0])
            c[f"ci_{kind}_upper"].append(limit and limit[1])
    return c


def first_at_most(times, heights, level):
    """None of these curves is level at exactly that height."""
    return next((t for t, s in zip(times, heights) if s is not None and s <= level), None)


def logrank(rows, labels):
    observed, expected, v = {g: 0 for g in labels}, {g: 0.0 for g in labels}, 0.0
    first = labels[0]
    for t in sorted({r[2] for r in rows if r[3] == 1}):
        risk = {g: sum(r[0] == g and r[1] < t <= r[2] for r in rows) for g in labels}
        died = {g: sum(r[0] == g and r[2] == t and r[3] == 1 for r in rows) for g in labels}
        n, d = sum(risk.values()), sum(died.values())
        for g in labels:
            observed[g] += died[g]
            expected[g] += risk[g] * d / n
        share = risk[first] / n
        v += d * share * (1 - share) * (n - d) / (n - 1) if n > 1 else 0
    chi2 = (observed[first] - expected[first]) ** 2 / v
    return {"chi2": chi2, "df": 1, "p": math.erfc(math.sqrt(chi2 / 2)), "observed": observed, "expected": expected, "stratified": False}


def survival():
    rows = [r for r in cases("survival.csv", "event") if r[1] < r[2]]
    labels, tau = ["cool", "warm"], 30.0
    groups = {g: curve([r for r in rows if r[0] == g]) for g in labels}
    quantiles = {k: {part: {g: [] for g in labels} for part in ["q", "lower", "upper"]} for k in ["plain", "log", "loglog"]}
    means = {}
    for g, c in groups.items():
        for q in [0.25, 0.5, 0.75]:
            for kind in quantiles:
                quantiles[kind]["q"][g].append(first_at_most(c["time"], c["surv"], 1 - q))
                for part in ["lower", "upper"]:
                    quantiles[kind][part][g].append(first_at_most(c["time"], c[f"ci_{kind}_{part}"], 1 - q))
        steps = [(0.0, 1.0)] + list(zip(c["time"], c["surv"]))
        area = lambda a: sum(s * max(min(b, tau) - max(t, a), 0) for (t, s), (b, _) in zip(steps, steps[1:] + [(tau, 0)]) if t < tau)
        terms = [(t, d / (n * (n - d))) for t, n, d in zip(c["time"], c["n_risk"], c["n_event"]) if t <= tau and d < n]
        means[g] = {"rmst": area(0), "se": math.sqrt(sum(area(t) ** 2 * term for t, term in terms))}
    answer = {"level": 0.95, "groups": groups, "quantiles": quantiles, "rmst": {"tau": tau, "groups": means}, "logrank": logrank(rows, labels)}
    answer["excluded"] = [{"row": 9, "reason": "entry and exit on the same day (12 d): no time at risk, so it belongs in the proportions only"}]
    write("survival.answer.json", answer)


proportion()
survival()
