"""How the wood of each species looks: colours, rings, pores, rays.

Colours are sRGB of freshly planed wood under daylight, chosen by eye (common
knowledge of the trade, no source); every board varies round them.
"""

from dataclasses import dataclass

__all__ = ["HARDWOODS", "SPECIES", "Species"]

Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Species:
    """The look of one species.

    Parameters
    ----------
    name : str
    heart, sap : tuple of float
        sRGB of heartwood and sapwood, 0 to 255.
    tone : tuple of float
        How much more red, green and blue a denser place takes from the light.
    ring_width : float
        Mean width of a year's ring [mm].
    band : float
        Darkness of the latewood against the earlywood (negative: lighter).
    line : float
        Darkness of the thin line that ends a ring.
    pore : float
        Darkness of an open pore.
    porous : float
        Share of the ring that holds the large earlywood pores; 1 for diffuse-porous wood, 0 for softwood.
    crowd : float
        How crowded the earlywood pores are, in deviations of the noise they are cut from.
    late_crowd : float
        The same for the latewood.
    pore_long, pore_wide : float
        Size of the dash that a pore shows on a face [mm].
    ray : float
        How much lighter a ray shines on a quartered face.
    ray_dark : float
        How much darker its end is on a flat-sawn face.
    ray_high, ray_thick : float
        Height of a ray along the grain and its thickness [mm].
    ray_crowd : float
        How crowded, in deviations.
    streak : float
        Strength of colour streaks along the grain.
    tint : float
        Strength of the difference between years.
    sapwood : float
        Width of the sapwood [mm].
    knot : tuple of float
        sRGB of a sound knot's inside.
    curl : float
        Chance of figure across the grain.
    """

    name: str
    heart: Colour
    sap: Colour
    tone: Colour = (0.8, 1.0, 1.25)
    ring_width: float = 2.4
    band: float = 0.1
    line: float = 0.0
    pore: float = 0.0
    porous: float = 0.0
    crowd: float = 0.0
    late_crowd: float = -3.0
    pore_long: float = 7.0
    pore_wide: float = 0.35
    ray: float = 0.0
    ray_dark: float = 0.0
    ray_high: float = 3.0
    ray_thick: float = 0.3
    ray_crowd: float = -1.5
    streak: float = 0.05
    tint: float = 0.04
    sapwood: float = 25.0
    knot: Colour = (120.0, 82.0, 50.0)
    curl: float = 0.0

    @property
    def sap_shows(self) -> bool:
        """Whether sapwood can be told from heartwood by its colour."""
        return sum(abs(one - two) for one, two in zip(self.heart, self.sap, strict=True)) > 60


_OAK = Species(
    "European oak", (200, 163, 116), (217, 193, 153), ring_width=2.9, band=0.07, pore=0.42, porous=0.27,
    crowd=0.5, late_crowd=-3.4, pore_long=5.0, pore_wide=0.33, ray=0.15, ray_dark=0.12, ray_high=11.0,
    ray_thick=0.55, ray_crowd=-1.1, streak=0.05, tint=0.04, sapwood=22.0, knot=(128, 88, 54),
)  # fmt: skip

_ALL = (
    _OAK,
    Species(
        "red oak", (204, 156, 122), (221, 190, 158), ring_width=3.0, band=0.08, pore=0.5, porous=0.34,
        crowd=0.5, late_crowd=-2.2, pore_long=9.0, pore_wide=0.5, ray=0.12, ray_dark=0.14, ray_high=10.0,
        ray_thick=0.45, ray_crowd=-1.4, streak=0.05, tint=0.05, sapwood=25.0, knot=(124, 76, 52),
    ),
    Species(
        "ash", (222, 199, 163), (230, 213, 182), ring_width=3.1, band=-0.03, pore=0.42, porous=0.3,
        crowd=0.55, late_crowd=-2.6, pore_long=10.0, pore_wide=0.42, streak=0.04, tint=0.05, sapwood=60.0,
        knot=(150, 112, 76), curl=0.1,
    ),
    Species(
        "elm", (170, 126, 88), (208, 182, 144), ring_width=3.0, band=0.02, pore=0.4, porous=0.3, crowd=0.4,
        late_crowd=-1.7, pore_long=7.0, streak=0.09, tint=0.07, sapwood=25.0, knot=(108, 72, 46),
    ),
    Species(
        "sweet chestnut", (193, 152, 104), (214, 188, 144), ring_width=3.2, band=0.06, pore=0.48, porous=0.32,
        crowd=0.4, late_crowd=-2.4, pore_long=7.0, streak=0.05, tint=0.05, sapwood=12.0, knot=(120, 82, 50),
    ),
    Species(
        "walnut", (116, 84, 61), (196, 168, 132), ring_width=3.4, band=0.06, line=0.10, pore=0.38, porous=1.0,
        crowd=-1.35, late_crowd=-1.9, pore_long=6.0, pore_wide=0.3, streak=0.2, tint=0.12, sapwood=25.0,
        knot=(72, 50, 38), curl=0.15,
    ),
    Species(
        "cherry", (190, 130, 90), (222, 190, 152), ring_width=2.6, band=0.05, line=0.08, pore=0.1, porous=1.0,
        crowd=-1.2, late_crowd=-1.6, pore_long=2.5, pore_wide=0.25, ray=0.06, ray_dark=0.03, ray_high=2.0,
        ray_thick=0.3, ray_crowd=-1.0, streak=0.07, tint=0.05, sapwood=18.0, knot=(112, 64, 44), curl=0.1,
    ),
    Species(
        "beech", (214, 172, 134), (220, 184, 148), ring_width=2.4, band=0.05, line=0.05, pore=0.08,
        porous=1.0, crowd=-1.3, late_crowd=-1.8, pore_long=2.0, pore_wide=0.25,
        ray=0.08, ray_dark=0.2, ray_high=2.4,
        ray_thick=0.35, ray_crowd=-1.35, streak=0.04, tint=0.03, sapwood=40.0, knot=(150, 100, 68),
    ),
    Species(
        "maple", (226, 200, 163), (234, 214, 184), ring_width=2.7, band=0.02, line=0.09, pore=0.06,
        porous=1.0, crowd=-1.3, late_crowd=-1.8, pore_long=2.0, pore_wide=0.25,
        ray=0.06, ray_dark=0.04, ray_high=1.2,
        ray_thick=0.3, ray_crowd=-0.9, streak=0.04, tint=0.03, sapwood=60.0, knot=(150, 108, 76), curl=0.35,
    ),
    Species(
        "sycamore", (224, 204, 174), (230, 213, 186), ring_width=3.2, band=0.02, line=0.05, pore=0.06,
        porous=1.0, crowd=-1.3, late_crowd=-1.7, pore_long=2.0, ray=0.09, ray_dark=0.1, ray_high=4.0,
        ray_thick=0.4, ray_crowd=-0.8, streak=0.03, tint=0.03, sapwood=60.0, knot=(150, 112, 80), curl=0.3,
    ),
    Species(
        "birch", (222, 190, 150), (230, 208, 176), ring_width=2.4, band=0.02, line=0.05, pore=0.1, porous=1.0,
        crowd=-1.4, late_crowd=-1.9, pore_long=4.0, streak=0.05, tint=0.03, sapwood=60.0, knot=(120, 78, 50),
        curl=0.25,
    ),
    Species(
        "tulip poplar", (190, 180, 132), (228, 216, 184), tone=(1.0, 0.95, 1.1), ring_width=4.0, band=0.03,
        line=-0.05, pore=0.06, porous=1.0, crowd=-1.4, late_crowd=-1.8, pore_long=3.0, streak=0.14, tint=0.05,
        sapwood=35.0, knot=(112, 92, 60),
    ),
    Species(
        "sapele", (150, 88, 62), (200, 164, 130), ring_width=4.5, band=0.05, line=0.06, pore=0.3, porous=1.0,
        crowd=-1.2, late_crowd=-1.3, pore_long=4.0, pore_wide=0.3, streak=0.12, tint=0.07, sapwood=40.0,
        knot=(90, 50, 38), curl=0.5,
    ),
    Species(
        "teak", (172, 122, 74), (216, 190, 146), ring_width=3.2, band=0.04, pore=0.34, porous=0.25, crowd=0.1,
        late_crowd=-2.0, pore_long=7.0, streak=0.16, tint=0.08, sapwood=20.0, knot=(96, 64, 40),
    ),
    Species(
        "iroko", (158, 112, 66), (208, 180, 132), ring_width=5.0, band=0.02, pore=0.34, porous=1.0,
        crowd=-1.5, late_crowd=-1.6, pore_long=9.0, pore_wide=0.5, streak=0.12, tint=0.06, sapwood=40.0,
        knot=(92, 60, 38), curl=0.3,
    ),
    Species(
        "rosewood", (122, 62, 46), (206, 168, 128), tone=(0.9, 1.1, 1.1), ring_width=4.0, band=0.05, line=0.3,
        pore=0.3, porous=1.0, crowd=-1.6, late_crowd=-1.8, pore_long=8.0, pore_wide=0.4, streak=0.16,
        tint=0.2, sapwood=30.0, knot=(70, 38, 30), curl=0.15,
    ),
    Species(
        "alder", (202, 150, 108), (214, 168, 128), ring_width=3.6, band=0.02, line=0.05, pore=0.06,
        porous=1.0, crowd=-1.3, late_crowd=-1.8, pore_long=3.0, ray_dark=0.14, ray_high=20.0, ray_thick=0.5,
        ray_crowd=-2.6, streak=0.05, tint=0.03, sapwood=60.0, knot=(128, 78, 50),
    ),
    Species(
        "hickory", (196, 158, 116), (226, 206, 170), ring_width=2.2, band=0.05, pore=0.4, porous=0.3,
        crowd=0.2, late_crowd=-2.4, pore_long=9.0, streak=0.12, tint=0.06, sapwood=45.0, knot=(116, 78, 50),
    ),
    Species(
        "spruce", (230, 200, 150), (236, 212, 170), tone=(0.6, 1.0, 1.45), ring_width=2.2, band=0.2,
        streak=0.03, tint=0.05, sapwood=45.0, knot=(150, 98, 60),
    ),
    Species(
        "pine", (226, 188, 134), (234, 206, 160), tone=(0.55, 1.0, 1.5), ring_width=2.8, band=0.24, line=0.0,
        streak=0.03, tint=0.05, sapwood=45.0, knot=(160, 96, 56),
    ),
)  # fmt: skip

SPECIES: dict[str, Species] = {species.name: species for species in _ALL}
HARDWOODS: tuple[str, ...] = tuple(name for name in SPECIES if name not in ("pine", "spruce"))
