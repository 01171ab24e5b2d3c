"""The same figures in numpy and in numba, for benches/pedigree.rs.

Arguments: a file with sire and dam of each animal by number (-1 unknown, parents first), how many
of them the table of all kinships is for, rounds. Prints NAME, PEER, SECONDS and SUM, tab between.
"""
import sys
import time

try:
    import numpy as np
except ImportError:
    print("SKIPPED numpy: it is not installed for " + sys.executable)
    sys.exit(0)

links = np.loadtxt(sys.argv[1], dtype=np.int64)
small, rounds = int(sys.argv[2]), int(sys.argv[3])


def report(name, peer, work):
    seconds, total = [], 0.0
    for _ in range(rounds):
        start = time.perf_counter()
        total = work()
        seconds.append(time.perf_counter() - start)
    print(f"{name}\t{peer}\t{sorted(seconds)[rounds // 2]!r}\t{float(total)!r}", flush=True)


def table(sire, dam):
    """Emik & Terrill 1949, one row after the other."""
    n = len(sire)
    k = np.zeros((n, n))
    for i in range(n):
        s, d = sire[i], dam[i]
        if s >= 0:
            k[i, :i] = 0.5 * (k[s, :i] + k[d, :i])
            k[:i, i] = k[i, :i]
            k[i, i] = 0.5 * (1.0 + k[s, d])
        else:
            k[i, i] = 0.5
    return k


def kinships():
    k = table(links[:small, 0], links[:small, 1])
    i = np.arange(small)
    return k[i, (i * 7919) % small].sum()


def by_parents():
    """The table of the parents alone gives F; mean kinship from contributions, year by year."""
    sire, dam = links[:, 0], links[:, 1]
    parents = np.unique(links[links >= 0])
    place = np.full(len(links), -1)
    place[parents] = np.arange(len(parents))
    known = sire >= 0
    own = np.where(known, place[sire], -1), np.where(known, place[dam], -1)
    k = table(own[0][parents], own[1][parents])
    f = np.where(known, k[own[0], own[1]], 0.0)
    d = np.where(known, 0.5 - 0.25 * (f[sire] + f[dam]), 1.0)
    c = np.ones(len(links))
    # The last brood first: within one, nobody is another's parent.
    depth = np.zeros(len(links), dtype=np.int64)
    for i in np.flatnonzero(known).tolist():
        depth[i] = 1 + max(depth[sire[i]], depth[dam[i]])
    for level in range(depth.max(), 0, -1):
        here = np.flatnonzero(depth == level)
        np.add.at(c, sire[here], 0.5 * c[here])
        np.add.at(c, dam[here], 0.5 * c[here])
    return f.sum() + 0.5 * (c * c * d).sum() / len(links) ** 2


report("kinships", "numpy, tabular", kinships)
report("F and MK", "numpy, tabular on the parents", by_parents)

try:
    import numba
except ImportError:
    print("SKIPPED numba: it is not installed for " + sys.executable)
    sys.exit(0)


@numba.njit
def meuwissen_luo(sire, dam):
    """Meuwissen & Luo 1992, full sibs side by side done once; then Colleau 2002."""
    n = len(sire)
    f, d, reach, nxt = np.zeros(n), np.zeros(n), np.zeros(n), np.full(n, -1)
    for i in range(n):
        s, m = sire[i], dam[i]
        if s < 0:
            d[i] = 1.0
            continue
        d[i] = 0.5 - 0.25 * (f[s] + f[m])
        if i > 0 and sire[i - 1] == s and dam[i - 1] == m:
            f[i] = f[i - 1]
            continue
        total, j = -1.0, i
        reach[i] = 1.0
        while j >= 0:
            r = 0.5 * reach[j]
            if sire[j] >= 0:
                for p in (sire[j], dam[j]):
                    if reach[p] == 0.0:
                        k = j
                        while nxt[k] > p:
                            k = nxt[k]
                        if nxt[k] != p:
                            nxt[p] = nxt[k]
                            nxt[k] = p
                    reach[p] += r
            total += reach[j] * reach[j] * d[j]
            reach[j] = 0.0
            k = nxt[j]
            nxt[j] = -1
            j = k
        f[i] = total
    c = np.ones(n)
    for i in range(n - 1, -1, -1):
        if sire[i] >= 0:
            c[sire[i]] += 0.5 * c[i]
            c[dam[i]] += 0.5 * c[i]
    return f.sum() + 0.5 * (c * c * d).sum() / n**2


columns = np.ascontiguousarray(links[:, 0]), np.ascontiguousarray(links[:, 1])
meuwissen_luo(columns[0][:small], columns[1][:small])
report("F and MK", "numba, Meuwissen & Luo (compiled before)", lambda: meuwissen_luo(*columns))
