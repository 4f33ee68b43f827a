"""Fits the published examples of `domain/tests/published` with statsmodels, and with SciPy where statsmodels cannot.

Prints what the tests hold, to more digits than were published.
"""

from pathlib import Path

import numpy as np
import statsmodels.api as sm
from scipy.optimize import brentq, minimize
from scipy.stats import chi2, norm

DATA = Path(__file__).parents[3] / "domain" / "tests" / "published"
LINKS = {"logit": sm.families.links.Logit(), "probit": sm.families.links.Probit()}


def beetles():
    """Bliss, The calculation of the dosage-mortality curve, Ann. Appl. Biol. 22 (1935)."""
    x = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
    n = np.array([59, 60, 62, 56, 63, 59, 62, 60])
    return np.column_stack([np.ones_like(x), x]), np.array([6, 13, 18, 28, 52, 53, 61, 60]), n


def budworm():
    """Collett, Modelling Binary Data (1991); Venables and Ripley, MASS (4th ed.), 7.2: female, male, log2 of the dose."""
    dose = np.tile(np.arange(6.0), 2)
    male = np.repeat([1.0, 0.0], 6)
    dead = np.array([1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16])
    return np.column_stack([1.0 - male, male, dose]), dead, np.full(12, 20)


def table(name):
    return np.genfromtxt(DATA / name, delimiter=",", skip_header=1)


def vasoconstriction():
    """Finney, The estimation from individual records ..., Biometrika 34 (1947); fit in Pregibon, Ann. Statist. 9 (1981)."""
    volume, rate, y = table("vasoconstriction.csv").T
    return np.column_stack([np.ones_like(y), np.log(volume), np.log(rate)]), y, np.ones_like(y)


def endometrial():
    """Heinze and Schemper, A solution to the problem of separation, Statist. Med. 21 (2002)."""
    nv, pi, eh, hg = table("endometrial.csv").T
    return np.column_stack([np.ones_like(hg), nv, pi, eh]), hg, np.ones_like(hg)


def maximum_likelihood(name, example, link):
    x, y, n = example
    found = sm.GLM(np.column_stack([y, n - y]), x, family=sm.families.Binomial(LINKS[link])).fit(tol=1e-12)
    print(f"{name} {link}: {np.round(found.params, 6)} se {np.round(found.bse, 6)} deviance {found.deviance:.6f}")
    return found


def fieller(found):
    (a, b), v, z2 = found.params, found.cov_params(), norm.ppf(0.975) ** 2
    square, linear, constant = b * b - z2 * v[1, 1], a * b - z2 * v[0, 1], a * a - z2 * v[0, 0]
    root = np.sqrt(linear**2 - square * constant)
    print(f"  half point {-a / b:.6f}, Fieller {(-linear - root) / square:.6f} {(-linear + root) / square:.6f}")


def objective(beta, example, link, jeffreys):
    x, y, n = example
    eta = x @ beta
    if link == "logit":
        ln_p, ln_q = -np.logaddexp(0, -eta), -np.logaddexp(0, eta)
        weight = np.exp(ln_p + ln_q)
    else:
        ln_p, ln_q = norm.logcdf(eta), norm.logcdf(-eta)
        weight = np.exp(2 * norm.logpdf(eta) - ln_p - ln_q)
    value = y @ ln_p + (n - y) @ ln_q
    return value + (0.5 * np.linalg.slogdet(x.T @ (x * (n * weight)[:, None]))[1] if jeffreys else 0.0)


def maximize(function, start):
    best = minimize(lambda b: -function(b), start, method="BFGS", options={"gtol": 1e-9})
    return minimize(lambda b: -function(b), best.x, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 20000})


def profile(name, example, link, jeffreys, index):
    size = example[0].shape[1]
    scale = np.abs(example[0]).max(axis=0)
    scaled = (example[0] / scale, *example[1:])
    whole = lambda b: objective(b, scaled, link, jeffreys)
    best = maximize(whole, np.zeros(size))
    print(f"{name} {link}{' with penalty' if jeffreys else ''}: {np.round(best.x / scale, 6)}")

    def fallen(value):
        free = lambda rest: whole(np.insert(rest, index, value * scale[index]))
        found = maximize(free, np.delete(best.x, index))
        return 2 * (found.fun - best.fun) - chi2.ppf(0.95, 1)

    centre, width = best.x[index] / scale[index], 1.0
    ends = [brentq(fallen, centre, centre + sign * 8 * width, xtol=1e-7) for sign in (-1, 1)]
    print(f"  95 % profile interval of coefficient {index}: {ends[0]:.5f} {ends[1]:.5f}")


def main():
    for link in LINKS:
        fieller(maximum_likelihood("beetles", beetles(), link))
    maximum_likelihood("budworm", budworm(), "logit")
    maximum_likelihood("vasoconstriction", vasoconstriction(), "logit")
    profile("endometrial", endometrial(), "logit", True, 1)
    profile("vasoconstriction", vasoconstriction(), "logit", False, 1)


if __name__ == "__main__":
    main()
