"""Writes the reference table of edges: the posterior of section "Model" of `lapwatch_domain::edges`, by another program.

Nothing here is shared with the Rust code. Every cell of the grid is evaluated (no tables, no interpolation, no cells
left out), with an adaptive integral over the shared scatter (SciPy's Gauss-Kronrod, centred on each integrand's peak).

Usage: edges.py OUTPUT.csv
"""

import csv
import sys

import numpy as np
from scipy.integrate import quad_vec
from scipy.optimize import brentq
from scipy.special import gammaln, log_ndtr, logsumexp, ndtr

from trials import trials

GRID_START = 250.0
SIGMA_POINTS, SIGMA_REACH = 31, 2.5


def ln_integrand(z, x, beyond, short, rho):
    """Logarithm of the probability that the strips part so, when the shared scatter is z."""
    a = (x - np.sqrt(rho) * z) / np.sqrt(1.0 - rho)
    return beyond * log_ndtr(a) + short * log_ndtr(-a)


def peak(x, beyond, short, rho):
    """Where the integrand times the normal density is largest: it is log-concave, so its slope is bisected."""
    scale = np.sqrt(rho / (1.0 - rho))

    def slope(z):
        a = (x - np.sqrt(rho) * z) / np.sqrt(1.0 - rho)
        ln_pdf = -0.5 * a * a - 0.5 * np.log(2.0 * np.pi)
        hazards = short * np.exp(ln_pdf - log_ndtr(-a)) - beyond * np.exp(ln_pdf - log_ndtr(a))
        return scale * hazards - z

    reach = 10.0 + np.abs(x) / max(np.sqrt(rho), 1e-9) if rho > 0 else np.full_like(x, 10.0)
    low, high = -reach, +reach
    for _ in range(60):
        middle = 0.5 * (low + high)
        rising = slope(middle) > 0.0
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    return 0.5 * (low + high)


def ln_likelihood(x, beyond, short, rho):
    flat = x.ravel()
    centre = peak(flat, beyond, short, rho)

    def height(z):
        return ln_integrand(z, flat, beyond, short, rho) - 0.5 * z * z

    top = height(centre)
    # The curvature of the logarithm is at least that of the normal density: 9 to either side hold all of it.
    area, _ = quad_vec(lambda u: np.exp(height(centre + u) - top), -9.0, 9.0, epsabs=1e-11, epsrel=1e-11, norm="max")
    return (top + np.log(area) - 0.5 * np.log(2.0 * np.pi)).reshape(x.shape)


def tallies(trial, edge):
    """(temperature, strips beyond the edge, strips short of it) of the coupons that say something about it."""
    for celsius, cold, sound, hot in trial["coupons"]:
        beyond, short = (sound + hot, cold) if edge == "lower" else (hot, sound)
        if beyond + short > 0:
            yield celsius, beyond, short


def classify(rows):
    beyond, short = any(b for _, b, _ in rows), any(s for _, _, s in rows)
    return {(True, True): "bracketed", (False, True): "open_above", (True, False): "open_below"}.get((beyond, short), "none")


def sigmas(trial):
    z = np.linspace(SIGMA_REACH, -SIGMA_REACH, SIGMA_POINTS)
    ln_prior = -0.5 * z * z
    return trial["sigma_median"] * np.exp(trial["ln_sigma_sd"] * z), ln_prior - logsumexp(ln_prior)


def ln_data(rows, mu, sigma, rho):
    """ln of the probability of all coupons, for every edge in mu (columns) and every scatter in sigma (rows)."""
    total = np.zeros((len(sigma), len(mu)))
    for celsius, beyond, short in rows:
        choices = gammaln(beyond + short + 1) - gammaln(beyond + 1) - gammaln(short + 1)
        x = (celsius - mu[None, :]) / sigma[:, None]
        total += choices + ln_likelihood(x, beyond, short, rho)
    return total


def marginal(trial, edge, rows):
    top = trial["unit_maximum"] + (50.0 if edge == "upper" else 0.0)
    mu = np.arange(GRID_START, np.floor(top) + 0.5)
    sigma, ln_prior = sigmas(trial)
    joint = ln_prior[:, None] + ln_data(rows, mu, sigma, trial["rho"])
    joint = np.exp(joint - joint.max())
    return mu, sigma, joint / joint.sum()


def moments(mu, weights):
    mean = float(weights @ mu)
    return mean, float(np.sqrt(weights @ (mu - mean) ** 2))


def quantile(mu, weights, share):
    return float(mu[np.argmax(np.cumsum(weights) >= share)])


def bound(trial, rows, kind):
    """The edge at which the probability of the data, averaged over the prior of the scatter, is 5 %."""
    sigma, ln_prior = sigmas(trial)

    def excess(celsius):
        ln = ln_prior + ln_data(rows, np.array([celsius]), sigma, trial["rho"])[:, 0]
        return float(np.exp(logsumexp(ln)) - 0.05)

    if kind not in ("open_above", "open_below"):
        return None
    low, high = -200.0, 1500.0
    return brentq(excess, low, high, xtol=1e-9) if excess(low) * excess(high) < 0.0 else None


def share_beyond(mu, sigma, joint, celsius):
    """The predicted share of strips whose change lies above this temperature."""
    return float((joint * ndtr((mu[None, :] - celsius) / sigma[:, None])).sum())


def edge_row(trial, edge):
    rows = list(tallies(trial, edge))
    kind = classify(rows)
    mu, sigma, joint = marginal(trial, edge, rows)
    weights = joint.sum(axis=0)
    mean, sd = moments(mu, weights)
    limit = bound(trial, rows, kind)
    middle = float(np.mean([celsius for celsius, *_ in trial["coupons"]]))
    return {
        "trial": trial["name"],
        "unit_maximum": f"{trial['unit_maximum']:g}",
        "sigma_median": f"{trial['sigma_median']:g}",
        "ln_sigma_sd": f"{trial['ln_sigma_sd']:g}",
        "rho": f"{trial['rho']:g}",
        "coupons": " ".join(f"{t:g}:{c}/{s}/{h}" for t, c, s, h in trial["coupons"]),
        "edge": edge,
        "class": kind,
        "mean": f"{mean:.9f}",
        "sd": f"{sd:.9f}",
        "q025": f"{quantile(mu, weights, 0.025):.0f}",
        "q500": f"{quantile(mu, weights, 0.5):.0f}",
        "q975": f"{quantile(mu, weights, 0.975):.0f}",
        "bound": "" if limit is None else f"{limit:.6f}",
        "share_at": f"{middle:.3f}",
        "share_above": f"{share_beyond(mu, sigma, joint, middle):.9f}",
    }


def main(path):
    rows = [edge_row(trial, edge) for trial in trials() for edge in ("lower", "upper")]
    with open(path, "w", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    bracketed = [row for row in rows if row["class"] == "bracketed"]
    print(f"{len(rows)} edges of {len(rows) // 2} trials, {len(bracketed)} bracketed")


if __name__ == "__main__":
    main(sys.argv[1])
