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
    """The first age at or below that height; the middle of the piece that is level at exactly it."""
    known = [(t, s) for t, s in zip(times, heights) if s is not None]
    first = next(((t, s) for t, s in known if s <= level + 1e-9), None)
    if first is None or abs(first[1] - level) > 1e-9:
        return first and first[0]
    return (first[0] + next(t for t, s in known if s < level - 1e-9)) / 2


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


def incidences(rows, weights, causes):
    """Aalen and Johansen with a weight for each case; complex weights give derivatives."""
    times, s, f, out = sorted({r[2] for r in rows}), 1, {k: 0 for k in causes}, []
    for t in times:
        n = sum(w for r, w in zip(rows, weights) if r[1] < t <= r[2])
        d = {k: sum(w for r, w in zip(rows, weights) if r[2] == t and r[3] == k) for k in causes}
        for k in causes:
            f[k] += s * d[k] / n
        s *= (n - sum(d.values())) / n
        out.append((s, dict(f)))
    return out


def jackknife(rows, causes, at, cause):
    """The root of the sum of squared derivatives by the weight of each case, by a complex step."""
    total, h = 0.0, 1e-40
    for i in range(len(rows)):
        weights = [1 + (1j * h if j == i else 0) for j in range(len(rows))]
        total += (incidences(rows, weights, causes)[at][1][cause].imag / h) ** 2
    return math.sqrt(total)


def gray(rows, labels, causes, tested):
    """Gray 1988, rho 0, two groups, as the formulas stand: h, R, score, and V by a pass backward."""
    state = {g: [1.0, 0.0] for g in labels}
    steps, cumulative = [], 0.0
    for t in sorted({r[2] for r in rows if r[3]}):
        y = {g: sum(r[0] == g and t <= r[2] for r in rows) for g in labels}
        d1 = {g: sum(r[0] == g and r[2] == t and r[3] == tested for r in rows) for g in labels}
        d2 = {g: sum(r[0] == g and r[2] == t and r[3] not in (0, tested) for r in rows) for g in labels}
        before = {g: tuple(state[g]) for g in labels}
        for g in labels:
            if y[g]:
                s, f = state[g]
                state[g] = [s * (y[g] - d1[g] - d2[g]) / y[g], f + s * d1[g] / y[g]]
        h = {g: y[g] / before[g][0] if y[g] else 0.0 for g in labels}
        df0, g_before = sum(d1.values()) / sum(h.values()), 1 - cumulative
        cumulative += df0
        steps.append((y, d1, d2, before, {g: state[g][0] for g in labels}, h, df0, g_before, 1 - cumulative))
    k, z, v, later = labels[0], 0.0, 0.0, {g: 0.0 for g in labels}
    for y, d1, d2, before, after, h, df0, g_before, g0 in reversed(steps):
        total = sum(h.values())
        r = {g: h[g] * (1 - before[g][1]) for g in labels}
        if sum(r.values()):
            z += d1[k] - r[k] * sum(d1.values()) / sum(r.values())
        for g in labels:
            if y[g] == 0:
                continue
            e = (1 if g == k else 0) - h[k] / total
            a, b = e, 0.0
            if after[g] > 0:
                a, b = e + later[g] * (1 - g0 / after[g]) / h[g], -later[g] * (g0 / after[g]) / h[g]
            ties = sum(d1.values())
            tau1 = 1 - (ties - 1) / (total * before[g][0] - 1) if ties > 1 else 1
            tau2 = 1 - (d2[g] - 1) / (y[g] - 1) if d2[g] > 1 else 1
            v += a * a * h[g] * df0 * tau1 + b * b * d2[g] * tau2
        for g in labels:
            e = (1 if g == k else 0) - h[k] / total
            later[g] += e * h[g] * df0 / g_before
    statistic = z * z / v
    return {"statistic": statistic, "df": 1, "p": math.erfc(math.sqrt(statistic / 2))}


def incidence():
    rows, labels, causes, groups = cases("incidence.csv", "status"), ["cool", "warm"], [1, 2], {}
    for g in labels:
        own = [r for r in rows if r[0] == g]
        table = incidences(own, [1] * len(own), causes)
        times = sorted({r[2] for r in own})
        group = {"time": times, "n_risk": [sum(t <= r[2] for r in own) for t in times], "surv": [s for s, _ in table]}
        for k in causes:
            group[f"n_event_{k}"] = [sum(r[2] == t and r[3] == k for r in own) for t in times]
            group[f"cif_{k}"] = [f[k] for _, f in table]
            # Without late entries the two standard errors are one number.
            group[f"se_ij_{k}"] = group[f"se_greenwood_{k}"] = [jackknife(own, causes, at, k) for at in range(len(times))]
        groups[g] = group
    tests = {str(k): gray(rows, labels, causes, k) for k in causes}
    write("incidence.answer.json", {"groups": groups, "gray": tests, "notes": []})


def life_table():
    rows, l = [], 1.0
    for row in table("life_table.csv"):
        n, lost, d, births = (float(row[k]) for k in ["n_start", "lost", "event", "births"])
        exposed = n - lost / 2
        q = d / exposed
        start, end = float(row["start"]), float(row["end"])
        rows.append({"start": start, "end": end, "exposed": exposed, "q": q, "p": 1 - q, "l": l, "m": births / n})
        l *= 1 - q
    net = [(r["start"], r["l"] * r["m"]) for r in rows]
    r0 = sum(lm for _, lm in net)
    rate = bisect(lambda r: sum(lm * math.exp(-r * x) for x, lm in net) - 1, -10, 10)
    answer = {"rows": rows, "R0": r0, "T": sum(x * lm for x, lm in net) / r0, "r": rate, "lambda": math.exp(rate), "notes": []}
    write("life_table.answer.json", answer)


def pedigree():
    """Kinship by the recursive definition, retention by enumerating every drop of the genes."""
    rows = table("pedigree.csv")
    order = [r["id"] for r in rows]
    parents = {r["id"]: [p if p in order else None for p in (r["sire"], r["dam"])] for r in rows}
    living = [r["id"] for r in rows if r["living"] == "1"]

    def phi(i, j):
        if i is None or j is None:
            return Fraction(0)
        if order.index(i) > order.index(j):
            i, j = j, i
        s, d = parents[j]
        return (1 + phi(s, d)) / 2 if i == j else (phi(i, s) + phi(i, d)) / 2

    founders = [i for i in order if parents[i] == [None, None]]
    born = [i for i in order if i not in founders]
    mk = {i: sum(phi(i, j) for j in living) / len(living) for i in living}
    mean = sum(mk.values()) / len(living)
    carried, kept, drops = {f: Fraction(0) for f in founders}, {f: Fraction(0) for f in founders}, 4 ** len(born)
    for drop in range(drops):
        genes = {f: [(f, 0), (f, 1)] for f in founders}
        for place, i in enumerate(born):
            genes[i] = [genes[p][drop >> (2 * place + side) & 1] for side, p in enumerate(parents[i])]
        alive = [g for i in living for g in genes[i]]
        for f in founders:
            carried[f] += Fraction(sum(g[0] == f for g in alive), len(alive) * drops)
            kept[f] += Fraction(len({g for g in alive if g[0] == f}), 2 * drops)
    # Boichard by hand: s1 explains half of the living (as x and y do, but it is the oldest); of what
    # is left d1 and d2 explain a quarter each.
    marginal = [Fraction(1, 2), Fraction(1, 4), Fraction(1, 4)]
    summary = {
        "n": len(order),
        "living": len(living),
        "mean_kinship": mean,
        "gene_diversity": 1 - mean,
        "fge_from_mean_kinship": 1 / (2 * mean),
        "fge_by_retention": 1 / sum(carried[f] ** 2 / kept[f] for f in founders),
        "effective_founders": 1 / sum(p * p for p in carried.values()),
        "effective_ancestors": 1 / sum(m * m for m in marginal),
        "known_fraction": 1,
    }
    number = lambda values: {key: float(value) for key, value in values.items()}
    pair = {"sire": "x", "dam": "y", "kinship": float(phi("x", "y")), "sire_mean_kinship": float(mk["x"]), "dam_mean_kinship": float(mk["y"])}
    pair["offspring_mean_kinship"] = float((mk["x"] + mk["y"]) / 2)
    inbreeding = {i: phi(*parents[i]) for i in order}
    answer = {"F": number(inbreeding), "mean_kinship": number(mk), "summary": number(summary)}
    write("pedigree.answer.json", answer | {"founder_contribution": number(carried), "pairs": [pair]})


def interval():
    """Self-consistency (EM) until nothing moves. The columns are (0, 7], [14], (14, 21]."""
    columns = [([0], 1), ([1], 2), ([0, 1], 1), ([1], 1), ([2], 2), ([1, 2], 1)]
    p, n = [1 / 3] * 3, 8
    for _ in range(20000):
        g = [sum(w / sum(p[j] for j in c) for c, w in columns if i in c) for i in range(3)]
        p = [a * b / n for a, b in zip(p, g)]
    stretches = [[0.0, 7.0], [14.0, 14.0], [14.0, 21.0]]
    group = {"innermost": stretches, "mass": p, "support": [[*s, m] for s, m in zip(stretches, p)]}
    group["loglik"] = sum(w * math.log(sum(p[j] for j in c)) for c, w in columns)
    write("interval.answer.json", {"groups": {"all": group}})


T_2 = 0.95 / math.sqrt(2 * 0.975 * 0.025)  # Student's quantile for two degrees of freedom, in closed form


def line(points):
    n = len(points)
    mx, my = sum(x for x, _ in points) / n, sum(y for _, y in points) / n
    sxx = sum((x - mx) ** 2 for x, _ in points)
    b = sum((x - mx) * (y - my) for x, y in points) / sxx
    a = my - b * mx
    sigma = math.sqrt(sum((y - a - b * x) ** 2 for x, y in points) / (n - 2))
    at = lambda x: (a + b * x, T_2 * sigma * math.sqrt(1 + 1 / n + (x - mx) ** 2 / sxx))
    return a, b, sigma, sigma * math.sqrt(1 / n + mx * mx / sxx), sigma / math.sqrt(sxx), -mx * sigma**2 / sxx, at


def on_days(eggs, basis):
    """K/(T - T0) by least squares on the days: the curve is a line in K, and T0 is where the slope of what is left is 0."""
    best = lambda t0: sum(d / (t - t0) for t, d in eggs) / sum(1 / (t - t0) ** 2 for t, _ in eggs)
    slope = lambda t0: sum((d - best(t0) / (t - t0)) / (t - t0) ** 2 for t, d in eggs)
    low, high = -30.0, 10.0
    assert slope(low) * slope(high) < 0
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if slope(low) * slope(middle) > 0 else (low, middle)
    t0, k = low, best(low)
    rss = sum((d - k / (t - t0)) ** 2 for t, d in eggs)
    kk, kt, tt = (sum(f(t) for t, _ in eggs) for f in (lambda t: (t - t0) ** -2, lambda t: k * (t - t0) ** -3, lambda t: k * k * (t - t0) ** -4))
    by = kk * tt - kt * kt
    variance = rss / (len(eggs) - 2)
    fit = {"K": k, "T0": t0, "se_K": math.sqrt(variance * tt / by), "se_T0": math.sqrt(variance * kk / by)}
    return basis | fit | {"sigma": math.sqrt(variance), "rss": rss}


def incubation():
    eggs = [(float(r["temp_c"]), float(r["days"])) for r in table("incubation_fit.csv")]
    basis = {"n": 4, "temperature_min_c": 14.0, "temperature_max_c": 20.0, "level": 0.95, "df": 2}
    at = 17.0

    def predict(days, lower, upper):
        return {"temp_c": [at], "days": [days], "days_pi_lower": [lower], "days_pi_upper": [upper], "outside_fitted_range": [False]}

    a, b, sigma, se_a, se_b, cov, rate = line([(t, 1 / d) for t, d in eggs])
    t0 = -a / b
    # Fieller: the x at which (a + b x)^2 is the squared limit of its mean.
    q = [b * b - T_2**2 * se_b**2, 2 * (a * b - T_2**2 * cov), a * a - T_2**2 * se_a**2]
    root = math.sqrt(q[1] ** 2 - 4 * q[0] * q[2])
    fieller = sorted([(-q[1] - root) / 2 / q[0], (-q[1] + root) / 2 / q[0]])
    y, half = rate(at)
    sums = basis | {"a": a, "b": b, "se_a": se_a, "se_b": se_b, "cov_ab": cov, "sigma": sigma, "T0": t0, "K": 1 / b, "se_K_delta": se_b / b**2}
    sums["se_T0_delta"] = math.sqrt(se_a**2 / b**2 + a * a * se_b**2 / b**4 - 2 * a * cov / b**3)
    sums |= {"T0_fieller": fieller, "predict": predict(1 / y, 1 / (y + half), 1 / (y - half))}
    a, b, sigma, _, se_b, _, log = line([(t, math.log(d)) for t, d in eggs])
    y, half = log(at)
    q10 = basis | {"a": a, "b": b, "se_b": se_b, "sigma": sigma, "Q10": math.exp(-10 * b)}
    q10["Q10_ci"] = [math.exp(-10 * (b + T_2 * se_b)), math.exp(-10 * (b - T_2 * se_b))]
    q10["predict"] = predict(math.exp(y), math.exp(y - half), math.exp(y + half))
    scale = lambda t: 1 / (8.617333262e-5 * (t + 273.15))
    a, b, sigma, _, se_b, _, log = line([(scale(t), math.log(d)) for t, d in eggs])
    y, half = log(scale(at))
    energy = basis | {"a": a, "Ea_eV": b, "se_Ea": se_b, "sigma": sigma, "predict": predict(math.exp(y), math.exp(y - half), math.exp(y + half))}
    answer = {"degree_day_rate_regression": sums, "q10_loglinear": q10, "arrhenius": energy, "nls_days": on_days(eggs, basis), "notes": []}
    write("incubation_fit.answer.json", answer)
    # Degree-days above 4: 2.5 on the first quarter, 2.75 on the second, then 12 a day, of 1000.
    hatch = 0.5 + (1000 - 2.5 - 2.75) / 12
    write("incubation_log.answer.json", {"start": 0.0, "hatch_day": hatch})


def water():
    rows, answers = table("water.csv"), []
    for row in rows:
        t, s = float(row["t_c"]), float(row["salinity_psu"])
        k, t68, hpa = t + 273.15, t * 1.00024, float(row["pressure_hpa"] or 1013.25)
        pure = [999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9]
        rho = sum(c * t68**i for i, c in enumerate(pure))
        rho += s * sum(c * t68**i for i, c in enumerate([0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9]))
        rho += s**1.5 * (-5.72466e-3 + 1.0227e-4 * t68 - 1.6546e-6 * t68**2) + 4.8314e-4 * s * s
        ln = -139.34411 + 1.575701e5 / k - 6.642308e7 / k**2 + 1.243800e10 / k**3 - 8.621949e11 / k**4
        full = math.exp(ln - s * (1.7674e-2 - 10.754 / k + 2140.7 / k**2))
        u, theta, p = math.exp(11.8571 - 3840.70 / k - 216961 / k**2), 0.000975 - 1.426e-5 * t + 6.436e-8 * t * t, hpa / 1013.25
        full *= p * (1 - u / p) * (1 - theta * p) / ((1 - u) * (1 - theta))
        known = row["ph_scale"] == "nbs"
        part = 1 / (1 + 10 ** (9.350 + 0.0324 * (25 - t) - float(row["ph"]))) if known else None
        answer = {"un_ionised_fraction": part, "un_ionised_mg_l_n": known and part * float(row["tan_mg_l_n"]) or None}
        answer |= {"oxygen_saturation_mg_l": full, "oxygen_percent": row["oxygen_mg_l"] and 100 * float(row["oxygen_mg_l"]) / full or None}
        answers.append(answer | {"density_kg_m3": rho, "salinity_psu": s})
    write("water.answer.json", {"rows": answers})


proportion()
survival()
incidence()
life_table()
pedigree()
interval()
incubation()
water()
