"""Recomputes the numbers of values.json with public libraries, sharing no code with the program.

    python -m venv .venv && .venv/bin/pip install -r requirements.txt && .venv/bin/python recompute.py

Prints one line for each check and exits 1 if a recomputed number misses the expected one.
"""

import json
import pathlib
import sys

import numpy as np
import ruptures
import statsmodels.api as sm
from scipy import optimize, stats
from statsmodels.robust import scale
from statsmodels.stats import multitest, weightstats

BOOK = json.loads((pathlib.Path(__file__).parent / "values.json").read_text())
DATA = {name: np.array(entry["values"], float) for name, entry in BOOK["data"].items()}
OUT = {}


def put(name, *values):
    OUT[name] = np.hstack([np.atleast_1d(np.asarray(v, float)) for v in values])


def univariate():
    for k, base in ((2, 1.0), (3, 1e6), (4, 1e7)):
        x = np.array([base + 0.2] + [base + 0.1, base + 0.3] * 500)
        d = x - np.mean(x)
        put(f"nist/numacc{k}/mean", np.mean(x))
        put(f"nist/numacc{k}/sd", np.std(x, ddof=1))
        put(f"nist/numacc{k}/r1", d[1:] @ d[:-1] / (d @ d))
    x = DATA["chem"]
    put("chem/mean", x.mean())
    put("chem/median", np.median(x))
    put("chem/mad_sigma", scale.mad(x))
    put("chem/mad_sigma_full", scale.mad(x))
    put("chem/iqr_sigma", scale.iqr(x))
    walsh = [(x[i] + x[j]) / 2 for i in range(len(x)) for j in range(i, len(x))]
    put("chem/hodges_lehmann", np.median(walsh))
    s, mu = scale.mad(x), np.median(x)
    for _ in range(500):
        mu = np.clip(x, mu - 1.5 * s, mu + 1.5 * s).mean()
    put("chem/huber", mu)


def lines():
    f = stats.linregress(DATA["norris_x"], DATA["norris_y"])
    for key, value in (("slope", f.slope), ("intercept", f.intercept), ("slope_se", f.stderr),
                       ("intercept_se", f.intercept_stderr), ("r2", f.rvalue**2), ("f", (f.slope / f.stderr) ** 2)):
        put(f"nist/norris/{key}", value)
    x = np.column_stack([DATA[f"longley_{i}"] for i in range(1, 7)])
    mean, sd = x.mean(axis=0), x.std(axis=0)
    fit = sm.OLS(DATA["longley_y"], sm.add_constant((x - mean) / sd)).fit()
    slope = fit.params[1:] / sd
    put("nist/longley/coefficients", fit.params[0] - slope @ mean, slope)
    put("nist/longley/residual_sd", np.sqrt(fit.mse_resid))
    put("nist/longley/r2", fit.rsquared)
    f = stats.linregress(np.arange(12) / 2, DATA["rising"])
    put("rising/line", f.slope, f.stderr, f.pvalue)
    for name in ("si_rstv", "atm_wt_ag"):
        put(f"nist/{name}/f", stats.f_oneway(*DATA[name]).statistic)
    levels = np.array([4, 3, 5, 3, 5, 3, 5, 3, 5])[:, None] + np.array([0] + [-1, 1] * 10)
    for name, base in (("01", 1.0), ("04", 1e6)):
        put(f"nist/smls{name}/f", stats.f_oneway(*(base + levels / 10)).statistic)
    c, y = DATA["influence"], DATA["influence_y"]
    put("influence/bounded", optimize.lsq_linear(c, -y, bounds=(-0.5, 0.5), tol=1e-14).x)
    put("influence/ridge", np.linalg.solve(c.T @ c + 0.09 * np.eye(4), -c.T @ y))
    d = np.column_stack([-np.ones(3), np.eye(3)])
    put("influence/reference", np.linalg.lstsq(d @ c[:, 1:], -d @ y, rcond=None)[0])
    differences = optimize.lsq_linear(d @ c[:, 1:], -d @ y, bounds=(-0.8, 0.8), tol=1e-14)
    put("influence/reference_bounded", differences.x)
    put("influence/smallest", np.linalg.lstsq(d @ c, -d @ y, rcond=None)[0])
    w = np.linalg.lstsq(np.array([[3.0, -2], [5, -2], [5, -3]]), -np.array([1.0, -1, 0]), rcond=None)[0]
    put("goodman/weights", w)
    put("goodman/exact", w)

    def polar(size, deg):
        return size * np.exp(1j * np.radians(deg))

    start = np.array([polar(170, 112), polar(53, 78)])
    trial = np.array([[polar(235, 94), polar(185, 115)], [polar(58, 68), polar(77, 104)]])
    effect = (trial - start[:, None]) / 1.15
    w = np.linalg.solve(effect, -start)
    put("two_plane/influence", np.abs(effect).ravel())
    put("two_plane/weights", np.abs(w))
    put("two_plane/angles", np.degrees(np.angle(w)) % 360)


def series():
    x = DATA["nile"]
    n, breaks = len(x), [ruptures.Dynp(model="l2", min_size=15, jump=1).fit(x).predict(k)[:-1] for k in range(1, 5)]
    left = [sum(((s - s.mean()) ** 2).sum() for s in np.split(x, b)) for b in [[]] + breaks]
    put("nile/rss", left)
    for k, b in enumerate(breaks, 1):
        put(f"nile/breaks_{k}", b)
    put("nile/sup_f", (left[0] - left[1]) / (left[1] / (n - 2)))
    variance = (scale.mad(np.diff(x)) / np.sqrt(2)) ** 2
    for k in (2, 3):
        beta = k * variance * np.log(n)
        ends = ruptures.Pelt(model="l2", min_size=2, jump=1).fit(x).predict(beta)[:-1]
        cost = sum(((s - s.mean()) ** 2).sum() for s in np.split(x, ends))
        put(f"nile/pelt_{k}", beta, cost + beta * len(ends), ends)
    total = np.abs(np.cumsum(x - x.mean())[:-1])
    put("nile/cusum", total.argmax() + 1, total.max())
    hac = sm.OLS(x, np.ones(n)).fit(cov_type="HAC", cov_kwds={"maxlags": 4, "use_correction": False})
    put("nile/se", stats.sem(x), hac.bse)
    blocks = np.convolve(x, np.ones(5) / 5, "valid")
    batches = [stats.sem(x.reshape(b, -1).mean(axis=1)) for b in (5, 10)]
    put("nile/se_blocks", batches, np.sqrt(blocks.var() * 5 / n))
    put("nile/von_neumann", (np.diff(x) ** 2).sum() / ((x - x.mean()) ** 2).sum())
    i = np.arange(1, 61)
    steps = np.repeat([34.0, 32.5, 33.2], [20, 15, 25]) + 0.8 * ((i * 0.6180339887498949) % 1 - 0.5)
    beta = 3 * 0.64 / 12 * np.log(60)
    ends = ruptures.Pelt(model="l2", min_size=2, jump=1).fit(steps).predict(beta)[:-1]
    cost = sum(((s - s.mean()) ** 2).sum() for s in np.split(steps, ends))
    put("steps/pelt", ends, cost + beta * len(ends))
    f, v, d, r = DATA["rising"][0], 0.0, 0.0, []
    for before, now in zip(DATA["rising"], DATA["rising"][1:]):
        v, d = 0.1 * (now - f) ** 2 + 0.9 * v, 0.1 * (now - before) ** 2 + 0.9 * d
        f = 0.2 * now + 0.8 * f
        r.append(1.8 * v / d)
    put("rising/r_statistic", r)
    for name in ("epa_17_6", "epa_17_7"):
        t, y = DATA[name + "_t"], DATA[name + "_y"]
        f = stats.theilslopes(y, t, method="separate")
        put(name + "/slope", f.slope)
        put(name + "/intercept", f.intercept)
    f = stats.theilslopes(DATA["sen_y"], DATA["sen_t"], alpha=0.93, method="separate")
    put("sen/slope", f.slope)
    put("sen/intercept", f.intercept)
    put("sen/interval", f.low_slope, f.high_slope)


def decisions():
    phi = stats.norm.cdf
    y, u = np.array([0, 1, 1.5, 2, 2.5, 1.2]), np.array([0.5, 0.5, 0.5, 0.5, 0.5, 1])
    put("jcgm106/examples", phi(0.07 / 0.05), phi(19.7 / 8.6))
    put("jcgm106/two_sided", phi((2 - y) / u) - phi((-2 - y) / u))
    put("jcgm106/guard", stats.norm.ppf([0.80, 0.90, 0.95, 0.99, 0.999]) / 2)
    a, b = DATA["ncss_a"], DATA["ncss_b"]
    for name, kind in (("pooled", "pooled"), ("welch", "unequal")):
        p, low, high = weightstats.ttost_ind(a, b, -110, 110, usevar=kind)
        put(f"ncss/{name}", p, min(low[1], high[1]))
    a, b = DATA["clinic_1"], DATA["clinic_2"]
    put("clinic/paired", weightstats.ttost_paired(a, b, -0.6, 0.6)[0])
    put("clinic/welch", weightstats.ttost_ind(a, b, -0.6, 0.6, usevar="unequal")[0])
    d = DATA["wright"] - DATA["mini"]
    put("bland_altman/bias_sd", d.mean(), d.std(ddof=1))
    p = DATA["bh_p"]
    put("bh/rejections", *(multitest.multipletests(p, 0.05, m)[0].sum() for m in ("fdr_bh", "bonferroni")))


def main():
    for section in (univariate, lines, series, decisions):
        section()
    missed = 0
    for name, check in BOOK["checks"].items():
        if name not in OUT:
            print(f"  -   {name}: no recipe here ({check['recipe']})")
            continue
        want, got = np.array(check["expected"]), OUT[name]
        allowed = check["tolerance"] * (np.abs(want) if check.get("relative") else 1)
        fits = got.shape == want.shape and bool(np.all(np.abs(got - want) <= allowed))
        missed += not fits
        print(f"{' ok ' if fits else 'MISS'}  {name}" + ("" if fits else f": {got} against {want}"))
    print(f"{len(OUT)} of {len(BOOK['checks'])} checks recomputed, {missed} missed")
    sys.exit(missed > 0 or not set(OUT) <= set(BOOK["checks"]))


if __name__ == "__main__":
    main()
