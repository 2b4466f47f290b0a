"""A log: pith, rings, sapwood, bark and branches.

Log coordinates [mm]: x along the log from its butt, (u, v) across it, the pith
near (0, 0). A point's `rho` is the distance from the pith it would have in a
log that had grown perfectly round: rings, sapwood and bark are surfaces of
equal rho, and wander in space because the pith bends, the log tapers and is
not round, and branches lift the rings.
"""

from dataclasses import dataclass, replace

import numpy as np

from samples.wood.knots import Knot, around
from samples.wood.noise import Floats, noise, octaves
from samples.wood.species import SPECIES, Species

__all__ = ["Grown", "Log", "grow_log"]


@dataclass(frozen=True)
class Grown:
    """Points as the tree grew them; arrays of one shape.

    Parameters
    ----------
    x : array
        Along the log [mm].
    u, v : array
        Across the log from the pith, with the bending round knots undone [mm].
    rho : array
        Growth distance from the pith [mm].
    theta : array
        Direction from the pith [rad].
    """

    x: Floats
    u: Floats
    v: Floats
    rho: Floats
    theta: Floats


@dataclass(frozen=True)
class Log:
    """A log of one species.

    Parameters
    ----------
    species : Species
    seed : int
    radius : float
        Under the bark at the butt [mm].
    taper : float
        How much rho grows per mm along the log: the log gets thinner.
    ring_ends : array
        rho at which each year ends [mm], ascending from 0.
    ring_tints : array
        Shade of each year, one per ring.
    sapwood : float
        Its width [mm].
    bend : float
        Amplitude of the pith's wander [mm].
    lobes : tuple of (float, float, float)
        Waves round the log, height, phase [rad]: how it departs from round.
    knots : tuple of Knot
    wobble : float
        Amplitude of the unevenness of the rings [mm].
    curl : float
        Strength of the figure across the grain.
    """

    species: Species
    seed: int
    radius: float
    taper: float
    ring_ends: Floats
    ring_tints: Floats
    sapwood: float
    bend: float
    lobes: tuple[tuple[float, float, float], ...]
    knots: tuple[Knot, ...] = ()
    wobble: float = 1.2
    curl: float = 0.0

    def with_knots(self, knots: tuple[Knot, ...]) -> "Log":
        """The same log with other branches."""
        return replace(self, knots=knots)

    def pith(self, x: Floats) -> tuple[Floats, Floats]:
        """(u, v) of the pith at x [mm]."""
        zero = np.zeros(1, np.float32)
        bend = np.float32(self.bend)
        u = bend * octaves(x, zero, 1100.0, 1.0, self.seed + 11, 2)
        v = bend * octaves(x, zero, 1100.0, 1.0, self.seed + 12, 2)
        return u, v

    def grown(self, x: Floats, u: Floats, v: Floats) -> Grown:
        """Points of the log as the tree grew them; x, u, v arrays of one shape [mm]."""
        pith_u, pith_v = self.pith(x[:1, :] if x.ndim == 2 and np.all(x[0] == x[-1]) else x)
        u, v = u - pith_u, v - pith_v
        bulge = np.zeros(x.shape, np.float32)
        for knot in self.knots:
            window = _near(knot, x, u, v)
            if window is None:
                continue
            seen = around(knot, x[window], u[window], v[window])
            shift = seen.shift_across(knot)
            bulge[window] += seen.bulge(knot)
            u[window] -= shift * np.float32(seen.e_side[0])
            v[window] -= shift * np.float32(seen.e_side[1])
        r = np.sqrt(u * u + v * v)
        theta = np.arctan2(v, u)
        rho = self._rho(x, r, theta) - bulge
        return Grown(x, u, v, np.asarray(rho, np.float32), np.asarray(theta, np.float32))

    def _rho(self, x: Floats, r: Floats, theta: Floats) -> Floats:
        form = np.ones(theta.shape, np.float32)
        for waves, height, phase in self.lobes:
            form += np.float32(height) * np.cos(np.float32(waves) * theta + np.float32(phase))
        around_log = theta * np.float32(120.0)
        uneven = octaves(x, around_log, 420.0, 75.0, self.seed + 21, 2)
        growth = np.clip(r / np.float32(40.0), 0.05, 1.6)
        return np.asarray(
            r * form + np.float32(self.taper) * x + np.float32(self.wobble) * growth * uneven, np.float32
        )

    def sap_edge(self, grown: Grown) -> Floats:
        """Signed distance into the sapwood, positive inside it [mm]."""
        wander = octaves(grown.x, grown.theta * np.float32(120.0), 500.0, 60.0, self.seed + 31, 2)
        border = np.float32(self.radius - self.sapwood) + np.float32(0.08 * self.sapwood) * wander
        return np.asarray(grown.rho - border, np.float32)

    def bark_edge(self, grown: Grown) -> Floats:
        """Signed distance to the wood's outside, positive inside the wood [mm]."""
        return np.asarray(np.float32(self.radius) - grown.rho, np.float32)

    def year(self, grown: Grown, jag: Floats | None = None) -> tuple[Floats, Floats]:
        """Ring count (whole number) and the share of that year's growth, 0 to 1."""
        rho = grown.rho if jag is None else grown.rho + jag
        count = np.arange(len(self.ring_ends), dtype=np.float32)
        exact = np.interp(np.maximum(rho, 0), self.ring_ends, count).astype(np.float32)
        whole = np.floor(exact)
        return whole, exact - whole

    def fibre_jag(self, x: Floats, across: Floats) -> Floats:
        """How much sooner or later single fibres change from year to year [mm]."""
        size = np.float32(0.055 * self.species.ring_width)
        fine = noise(x, across, 11.0, 0.6, self.seed + 41)
        return np.asarray(size * fine, np.float32)


def _near(knot: Knot, x: Floats, u: Floats, v: Floats) -> tuple[slice, slice] | None:
    """The window of a grid of points that a knot disturbs, None if it is nowhere near."""
    step = 4
    seen = around(knot, x[::step, ::step], u[::step, ::step], v[::step, ::step])
    beyond = np.float32(knot.end + 8 * knot.radius + 8)
    start = np.float32(-0.6 * knot.radius - 1)
    rows, columns = np.nonzero(
        (seen.off < seen.reach() + 8) & (seen.along > start - 8) & (seen.along < beyond + 8)
    )
    if len(rows) == 0:
        return None
    return (
        slice(max(int(rows.min()) - 1, 0) * step, (int(rows.max()) + 2) * step),
        slice(max(int(columns.min()) - 1, 0) * step, (int(columns.max()) + 2) * step),
    )


def grow_log(species: str, seed: int, radius: float = 210.0, knots: tuple[Knot, ...] = ()) -> Log:
    """A log of a species, the same for the same seed."""
    wood = SPECIES[species]
    rng = np.random.default_rng(seed)
    mean = wood.ring_width * float(rng.uniform(0.75, 1.35))
    count = int(1.6 * radius / mean) + 40
    decade = np.repeat(rng.normal(0, 0.18, count // 9 + 1), 9)[:count]
    spread = np.exp(rng.normal(0, 0.22, count) + decade)
    age = np.exp(0.45 * np.exp(-np.arange(count) / 12.0) - 0.1)
    widths = np.maximum(mean * spread * age, 0.45)
    ends = np.concatenate([[0.0], np.cumsum(widths)])
    tints = rng.normal(0, 1, count + 1)
    return Log(
        species=wood,
        seed=seed,
        radius=radius,
        taper=float(rng.uniform(0.004, 0.012)),
        ring_ends=np.asarray(ends, np.float32),
        ring_tints=np.asarray(tints, np.float32),
        sapwood=wood.sapwood * float(rng.uniform(0.7, 1.3)),
        bend=float(rng.uniform(3.0, 9.0)),
        lobes=(
            (2.0, float(rng.uniform(0.01, 0.05)), float(rng.uniform(0, 6.28))),
            (3.0, float(rng.uniform(0.0, 0.025)), float(rng.uniform(0, 6.28))),
            (5.0, float(rng.uniform(0.0, 0.012)), float(rng.uniform(0, 6.28))),
        ),
        knots=knots,
        wobble=float(rng.uniform(0.8, 1.8)),
        curl=float(rng.uniform(0.03, 0.1)) if rng.random() < wood.curl else 0.0,
    )
