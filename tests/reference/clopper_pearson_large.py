"""Clopper-Pearson limits for large counts, by exact binomial sums in 50-digit arithmetic (mpmath).

The limits are roots of the binomial tails themselves (Clopper & Pearson 1934 Biometrika 26:404),
not of a beta function, so they share no code and no formula with what they check.
Writes clopper_pearson_large.expected.json beside itself. Needs mpmath.
"""
import json
import pathlib

import mpmath as mp

mp.mp.dps = 50
CASES = [
    (1, 10**6, "0.95"), (3, 10**6, "0.95"), (500_000, 10**6, "0.95"), (123_456, 10**6, "0.95"),
    (999_990, 10**6, "0.95"), (0, 10**6, "0.95"), (10**6, 10**6, "0.95"), (654_321, 10**6, "0.999"),
    (2_500, 100_000, "0.95"), (81, 263, "0.99"), (17, 20, "0.9999"),
]


def ln_term(k, n, p):
    choose = mp.loggamma(n + 1) - mp.loggamma(k + 1) - mp.loggamma(n - k + 1)
    return choose + k * mp.log(p) + (n - k) * mp.log(1 - p)


def at_least(k, n, p):
    """P(X >= k), summed upwards until nothing is added."""
    term, total, j = mp.exp(ln_term(k, n, p)), mp.mpf(0), k
    while j <= n:
        total += term
        if term < total * mp.mpf(10) ** -45:
            break
        term *= mp.mpf(n - j) / (j + 1) * p / (1 - p)
        j += 1
    return total


def lower(k, n, tail):
    """The p with P(X >= k) = tail."""
    if k == 0:
        return mp.mpf(0)
    if k == n:
        return tail ** (mp.mpf(1) / n)
    # Bisection on the log-odds to a rough root, then the secant method to all digits.
    def excess(odds):
        return mp.log(at_least(k, n, 1 / (1 + mp.exp(-odds)))) - mp.log(tail)

    centre = mp.log(mp.mpf(k) / (n - k + 1))
    left, right = centre - 40 / mp.sqrt(min(k, n - k) + 1), centre
    for _ in range(12):
        middle = (left + right) / 2
        left, right = (middle, right) if excess(middle) < 0 else (left, middle)
    root = mp.findroot(excess, (left, right), solver="anderson", tol=mp.mpf(10) ** -60)
    return 1 / (1 + mp.exp(-root))


def limits(k, n, level):
    tail = (1 - mp.mpf(level)) / 2
    # P(X <= k | p) = P(n - X >= n - k | 1 - p).
    both = lower(k, n, tail), 1 - lower(n - k, n, tail)
    return [float(mp.nstr(limit, 20)) for limit in both]


cases = [
    {"k": k, "n": n, "level": float(level), "clopper_pearson": limits(k, n, level)}
    for k, n, level in CASES
]
source = f"exact binomial sums, 50 digits, mpmath {mp.__version__}; clopper_pearson_large.py; CC0"
document = {"SOURCE": source, "tolerance_rel": 1e-12, "tolerance": 1e-16, "cases": cases}
path = pathlib.Path(__file__).with_name("clopper_pearson_large.expected.json")
path.write_text(json.dumps(document, indent=1) + "\n")
