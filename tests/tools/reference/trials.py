"""The trials of the reference table: some by hand, for what they show; the others drawn from a seed."""

import random

DEFAULTS = {"unit_maximum": 620.0, "sigma_median": 17.0, "ln_sigma_sd": 0.9, "rho": 0.5}

# Coupons: set temperature in °C, cold, sound, hot strips.
SWEEP = [(380, 3, 0, 0), (420, 1, 2, 0), (460, 0, 3, 0), (500, 0, 3, 0), (540, 0, 1, 2), (580, 0, 0, 3)]
SEPARATED = [(400, 3, 0, 0), (440, 3, 0, 0), (480, 0, 3, 0), (520, 0, 3, 0), (560, 0, 0, 3)]
CHECK = [(440, 0, 3, 0), (460, 0, 3, 0), (480, 0, 3, 0)]


def trial(name, coupons, **changes):
    return {"name": name, "coupons": coupons, **DEFAULTS, **changes}


def by_hand():
    yield trial("sweep", SWEEP)
    yield trial("separated", SEPARATED)
    yield trial("open both ways", CHECK)
    yield trial("open above", [(400, 2, 1, 0), (440, 1, 2, 0), (480, 0, 3, 0), (520, 0, 3, 0)])
    yield trial("open below", [(440, 0, 3, 0), (480, 0, 2, 1), (520, 0, 1, 2), (560, 0, 0, 3)])
    yield trial("all cold", [(400, 3, 0, 0), (440, 3, 0, 0), (480, 3, 0, 0)])
    yield trial("all hot", [(480, 0, 0, 3), (520, 0, 0, 3)])
    yield trial("one cold strip", [(430, 1, 0, 0)])
    yield trial("one sound strip", [(430, 0, 1, 0)])
    yield trial("one hot strip", [(430, 0, 0, 1)])
    yield trial("one of each", [(450, 1, 1, 1)])
    yield trial("ten strips", [(t, c, s, h) for t, c, s, h in [(400, 10, 0, 0), (430, 6, 4, 0), (460, 1, 9, 0), (510, 0, 8, 2), (550, 0, 1, 9)]])
    yield trial("cold above sound", [(400, 0, 3, 0), (440, 0, 3, 0), (480, 3, 0, 0), (520, 0, 3, 0), (560, 0, 0, 3)])
    yield trial("hot below sound", [(380, 3, 0, 0), (420, 0, 0, 3), (460, 0, 3, 0), (500, 0, 3, 0), (540, 0, 0, 3)])
    yield trial("upside down", [(400, 0, 0, 3), (450, 0, 3, 0), (500, 3, 0, 0)])
    yield trial("one contradicts ten", [(440, 0, 3, 0)] * 10 + [(600, 3, 0, 0)])
    yield trial("forty cold at the unit maximum", [(400, 0, 3, 0)] + [(620, 3, 0, 0)] * 40)
    yield trial("repeated sweep", SWEEP * 2)
    yield trial("two steps far apart", [(300, 3, 0, 0), (600, 0, 0, 3)])
    yield trial("close steps", [(450 + 5 * i, 3 - i if i < 3 else 0, i if i < 3 else 3, 0) for i in range(6)])
    yield trial("mixed everywhere", [(400, 1, 1, 1), (450, 1, 1, 1), (500, 1, 1, 1)])
    for maximum in (360.0, 440.0, 480.0, 555.5, 700.0, 900.0):
        # The grid cuts the posterior off, from below or from above.
        moved = [(t + int(maximum) - 580, *strips) for t, *strips in SWEEP]
        yield trial(f"sweep unit to {maximum:g}", moved, unit_maximum=maximum)
    for rho in (0.0, 0.2, 0.69, 0.7, 0.71, 0.8, 0.9, 0.95):
        yield trial(f"sweep rho {rho:g}", SWEEP, rho=rho)
        yield trial(f"contradiction rho {rho:g}", [(440, 0, 3, 0), (480, 2, 1, 0), (500, 0, 3, 0), (520, 0, 1, 2), (540, 0, 3, 0)], rho=rho)
    for median, spread in ((8.0, 0.9), (30.0, 0.9), (17.0, 0.3), (17.0, 0.0), (12.0, 1.5)):
        yield trial(f"sweep sigma {median:g} {spread:g}", SWEEP, sigma_median=median, ln_sigma_sd=spread)
    yield trial("fahrenheit steps", [(round((f - 32) / 1.8, 3), c, s, h) for f, c, s, h in [(700, 3, 0, 0), (750, 2, 1, 0), (800, 0, 3, 0), (850, 0, 3, 0), (900, 0, 3, 0), (950, 0, 2, 1), (1000, 0, 0, 3)]])


def drawn(seed, count):
    """Strips from a roof with edges, scatter and correlation of its own; the grid's correlation is another."""
    random.seed(seed)
    for number in range(count):
        lower, upper = random.uniform(380, 460), random.uniform(500, 600)
        scatter, shared = random.choice((6, 12, 18, 28)), random.choice((0.2, 0.5, 0.8))
        step, strips = random.choice((15, 20, 28, 40, 56)), random.choice((1, 2, 3, 3, 3, 5, 10))
        start = random.randrange(330, 420)
        coupons = []
        for place in range(random.randrange(2, 11)):
            celsius = start + step * place
            counts = [0, 0, 0]
            common = [random.gauss(0, 1) * shared**0.5 for _ in range(2)]
            for _ in range(strips):
                cold = celsius < lower + scatter * (common[0] + random.gauss(0, 1) * (1 - shared) ** 0.5)
                hot = celsius > upper + scatter * (common[1] + random.gauss(0, 1) * (1 - shared) ** 0.5)
                counts[0 if cold else 2 if hot else 1] += 1
            coupons.append((celsius, *counts))
        changes = {"rho": random.choice((0.5, 0.5, 0.3, 0.6, 0.85)), "unit_maximum": random.choice((560.0, 600.0, 620.0, 650.0))}
        yield trial(f"drawn {number}", coupons, **changes)


def trials():
    yield from by_hand()
    yield from drawn(seed=1935, count=36)
