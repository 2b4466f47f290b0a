"""Whether each repair is one a maker could make, and which faults it really makes good.

Nothing is taken from `layout.repair`: the rules are those of `layout.glue` and
`layout.allowances.RepairRules`, the figures are the trade's, written a second time.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations

from shapely import union_all
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.allowances import RepairRules
from layout.checks.finding import TOLERANCE, Violation, mm
from layout.checks.piece import Piece
from layout.checks.sides import depths_in, grown_in
from layout.glue import Repair, RepairKind
from layout.parts import PartSide, Visibility, ZoneRule
from layout.stock import Defect, DefectKind

__all__ = ["Proof", "budgets", "faults_of", "proofs"]

# (defect, side): the side is None for a place that must be sound.
Proof = frozenset[tuple[str, PartSide | None]]

_FACES = (PartSide.FACE, PartSide.BACK)
_EDGES = (PartSide.NEAR_EDGE, PartSide.FAR_EDGE)
_THIN = 3.0  # least wood in or under a patch, least slice over a fault; common practice [mm]
_FLAT = 10.0  # a glue face that carries is 1 in 10 or flatter (Wood Handbook, Chapter 10)
_STEEP = 8.0  # the steepest scarf, in unloaded parts
_COVERABLE = (
    DefectKind.SOUND_KNOT,
    DefectKind.PIN_KNOT,
    DefectKind.CHECK,
    DefectKind.SAPWOOD,
    DefectKind.STAIN,
    DefectKind.TORN_GRAIN,
    DefectKind.METAL,
)
_FILLED = {
    DefectKind.CHECK: 3.0,
    DefectKind.PIN_KNOT: 6.0,
    DefectKind.INSECT_HOLES: 6.0,
    DefectKind.RESIN_POCKET: 4.0,
    DefectKind.TORN_GRAIN: 10.0,
}


def proofs(piece: Piece, repairs: Sequence[Repair]) -> Proof:
    """Faults of a piece that its repairs make good, each on which side."""
    found: set[tuple[str, PartSide | None]] = set()
    for repair in repairs:
        for defect in piece.board.defects:
            if next(_geometry(piece, repair, defect), None) is None:
                found |= {(defect.id, side) for side in _sides_mended(piece, repair, defect)}
    return frozenset(found)


def faults_of(piece: Piece, repair: Repair) -> Iterator[Violation]:
    """What is wrong with one repair."""
    rules, part = piece.shop.repairs, piece.part
    name = f"{piece.name}: the {repair.kind.value} for {', '.join(repair.defects)}"
    said = list(_priced(repair, rules))
    said += [
        f"is seen on its {side.value}, a show face that is not to be repaired"
        for side in sorted(_sides_seen(piece, repair))
        if part.visibility(side) is Visibility.SHOW and not part.mend_show
    ]
    if not Polygon(part.shape).buffer(TOLERANCE).covers(Polygon(repair.outline)):
        said.append("reaches outside the part")
    known = {defect.id: defect for defect in piece.board.defects}
    for defect in repair.defects:
        if defect not in known:
            said.append(f"is for a fault {defect} that board {piece.board.id} does not have")
        else:
            said += _geometry(piece, repair, known[defect])
    said += _donor(piece, repair)
    for text in dict.fromkeys(said):
        yield Violation(part.name, piece.placement.copy, piece.board.id, f"{name} {text}.")


def _priced(repair: Repair, rules: RepairRules) -> Iterator[str]:
    """What is wrong with a repair's price, or with making it at all."""
    minutes = {
        RepairKind.PATCH: rules.patch,
        RepairKind.SLICE: rules.slice,
        RepairKind.SPLICE: rules.splice,
        RepairKind.EDGE_STRIP: rules.edge_strip,
        RepairKind.FILLER: rules.filler,
    }[repair.kind]
    worth = minutes / 60 * rules.rate
    if not rules.allowed or minutes < 0:
        yield "is not one the maker allows"
    elif abs(repair.cost - worth) > 0.011:
        yield f"is priced {repair.cost:.2f}, but {minutes:g} minutes come to {worth:.2f}"


def budgets(piece: Piece, repairs: Sequence[Repair]) -> Iterator[Violation]:
    """More repairs on a face than the shop makes, or two that run into each other."""
    rules = piece.shop.repairs
    counted = Counter(side for repair in repairs for side in _sides_seen(piece, repair) if side in _FACES)
    for side, count in counted.items():
        if count > rules.per_face:
            text = f"{piece.name}: {count} repairs on its {side.value}, but {rules.per_face} are the most."
            yield Violation(piece.part.name, piece.placement.copy, piece.board.id, text)
    for one, other in combinations(repairs, 2):
        if Polygon(one.outline).distance(Polygon(other.outline)) >= rules.clearance - TOLERANCE:
            continue
        backs = one.kind is other.kind is RepairKind.PATCH and {one.side, other.side} == set(_FACES)
        if not (backs and one.depth + other.depth <= piece.part.thickness - _THIN + TOLERANCE):
            text = f"{piece.name}: the {one.kind.value} and the {other.kind.value} run into each other."
            yield Violation(piece.part.name, piece.placement.copy, piece.board.id, text)


def _geometry(piece: Piece, repair: Repair, defect: Defect) -> Iterator[str]:
    """What keeps a repair from making this defect good."""
    reach = grown_in(defect, piece)
    if repair.kind is RepairKind.PATCH:
        yield from _patch(piece, repair, defect, reach)
    elif repair.kind is RepairKind.SLICE:
        yield from _slice(piece, repair, defect, reach)
    elif repair.kind is RepairKind.SPLICE:
        yield from _splice(piece, repair, reach)
    elif repair.kind is RepairKind.EDGE_STRIP:
        yield from _edge_strip(piece, repair, reach)
    else:
        yield from _filler(repair, defect, reach)


def _patch(piece: Piece, repair: Repair, defect: Defect, reach: BaseGeometry) -> Iterator[str]:
    rules, part, ground = piece.shop.repairs, piece.part, Polygon(repair.outline)
    if repair.side not in _FACES:
        yield "must lie in a face"
        return
    if not ground.buffer(TOLERANCE).covers(reach.buffer(rules.margin - TOLERANCE)):
        yield f"does not reach {mm(rules.margin)} beyond the fault all round"
    if not Polygon(part.shape).buffer(TOLERANCE - rules.clearance, join_style="mitre").covers(ground):
        yield f"comes nearer than {mm(rules.clearance)} to an edge"
    if _near_sound_zone(piece, ground, rules.clearance, None):
        yield f"comes nearer than {mm(rules.clearance)} to a joint or moulding"
    ring = list(repair.outline)
    for (x0, y0), (x1, y1) in zip(ring, ring[1:] + ring[:1], strict=True):
        if abs(y1 - y0) > abs(x1 - x0) + TOLERANCE:
            yield "has a joint line across the grain, which shows; point its ends"
            break
    through = repair.depth >= part.thickness - TOLERANCE
    if repair.depth < _THIN - TOLERANCE or (
        not through and repair.depth > part.thickness - _THIN + TOLERANCE
    ):
        yield f"is {mm(repair.depth)} deep; {mm(_THIN)} is the least, in it and below it, or go right through"
    needed = _depth_from(piece, defect, repair.side)
    if defect.kind not in _COVERABLE and repair.depth < min(needed, part.thickness) - TOLERANCE:
        yield f"is {mm(repair.depth)} deep, but the fault goes {mm(needed)} down and must come out"


def _slice(piece: Piece, repair: Repair, defect: Defect, reach: BaseGeometry) -> Iterator[str]:
    part = piece.part
    x0, y0, x1, y1 = Polygon(repair.outline).bounds
    near = x0 <= TOLERANCE
    run, reached = (x1, reach.bounds[2]) if near else (part.length - x0, part.length - reach.bounds[0])
    if repair.side not in _FACES or part.visibility(repair.side) is not Visibility.CONCEALED:
        yield "must lie on a concealed face"
    if not (near or x1 >= part.length - TOLERANCE) or y0 > TOLERANCE or y1 < part.width - TOLERANCE:
        yield "must reach an end and both edges"
    if repair.slope < _FLAT - 1e-6:
        yield f"slopes 1 in {repair.slope:g}; 1 in {_FLAT:g} or flatter holds"
    elif abs(run - repair.slope * repair.depth) > 0.2:
        wanted = mm(repair.slope * repair.depth)
        yield f"runs {mm(run)}, but {mm(repair.depth)} deep at 1 in {repair.slope:g} runs {wanted}"
    if repair.depth > part.thickness / 2 + TOLERANCE:
        yield f"takes {mm(repair.depth)} of {mm(part.thickness)}, more than half"
    over = repair.depth - reached / max(repair.slope, 1.0)
    if over < _THIN - TOLERANCE:
        yield f"is only {mm(over)} thick at the end of the fault; {mm(_THIN)} is the least, planed"
    needed = _depth_from(piece, defect, repair.side)
    if defect.kind not in _COVERABLE and over < needed - TOLERANCE:
        yield f"is {mm(over)} thick there, but the fault goes {mm(needed)} down and must come out"
    if _near_sound_zone(piece, Polygon(repair.outline), 0.0, repair.side):
        yield "runs into a joint or moulding"


def _splice(piece: Piece, repair: Repair, reach: BaseGeometry) -> Iterator[str]:
    part = piece.part
    x0, _, x1, _ = Polygon(repair.outline).bounds
    near = x0 <= TOLERANCE
    joint = (repair.at, x1) if near else (x0, repair.at)
    fresh = (x0, repair.at) if near else (repair.at, x1)
    if not near and x1 < part.length - TOLERANCE:
        yield "must take a whole end away"
    if repair.slope < _STEEP - 1e-6:
        yield f"slopes 1 in {repair.slope:g}; 1 in {_STEEP:g} is the steepest"
    if abs(joint[1] - joint[0] - repair.slope * part.thickness) > 0.2:
        wanted = mm(repair.slope * part.thickness)
        yield f"has a scarf of {mm(joint[1] - joint[0])}; 1 in {repair.slope:g} needs {wanted}"
    if joint[1] > part.length / 3 + TOLERANCE and joint[0] < 2 * part.length / 3 - TOLERANCE:
        yield "has its joint in the middle third, where the part bends most"
    if _near_sound_zone(piece, box(joint[0], 0, joint[1], part.width), piece.shop.repairs.clearance, None):
        yield "has its scarf in a joint or moulding"
    low, _, high, _ = reach.bounds
    if low < fresh[0] - TOLERANCE or high > fresh[1] + TOLERANCE:
        yield "does not take the whole fault away"


def _edge_strip(piece: Piece, repair: Repair, reach: BaseGeometry) -> Iterator[str]:
    part, ground = piece.part, Polygon(repair.outline)
    x0, y0, x1, y1 = ground.bounds
    at_edge = y0 <= TOLERANCE if repair.side is PartSide.NEAR_EDGE else y1 >= part.width - TOLERANCE
    if repair.side not in _EDGES or not at_edge:
        yield "must lie along an edge"
    if x0 > TOLERANCE or x1 < part.length - TOLERANCE:
        yield "must run the whole length"
    if y1 - y0 > part.width / 3 + TOLERANCE:
        yield f"is {mm(y1 - y0)} wide, more than a third of the part"
    if not ground.buffer(TOLERANCE).covers(reach):
        yield "does not take the whole fault away"
    if _near_sound_zone(piece, ground, 0.0, None):
        yield "runs through a joint or moulding"


def _filler(repair: Repair, defect: Defect, reach: BaseGeometry) -> Iterator[str]:
    ys = [y for _, y in defect.outline]
    largest = _FILLED.get(defect.kind)
    if largest is None:
        yield f"fills a {defect.kind.value}, which filler does not mend"
    elif max(ys) - min(ys) > largest + TOLERANCE:
        yield f"fills {mm(max(ys) - min(ys))}; {mm(largest)} is the most for a {defect.kind.value}"
    if not Polygon(repair.outline).buffer(TOLERANCE).covers(reach):
        yield "does not fill the whole fault"


def _sides_mended(piece: Piece, repair: Repair, defect: Defect) -> set[PartSide | None]:
    if repair.kind is RepairKind.PATCH:
        through = repair.depth >= piece.part.thickness - TOLERANCE
        return set(_FACES) if through else {repair.side}
    if repair.kind is RepairKind.SPLICE:
        return {*PartSide, None}
    if repair.kind in (RepairKind.EDGE_STRIP, RepairKind.FILLER):
        return set(PartSide)
    reach = grown_in(defect, piece)
    near = Polygon(repair.outline).bounds[0] <= TOLERANCE
    reached = reach.bounds[2] if near else piece.part.length - reach.bounds[0]
    over = repair.depth - reached / repair.slope
    wholly = over >= _depth_from(piece, defect, repair.side) - TOLERANCE
    end = PartSide.NEAR_END if near else PartSide.FAR_END
    return {repair.side, *_EDGES, end} if wholly else {repair.side}


def _sides_seen(piece: Piece, repair: Repair) -> set[PartSide]:
    """Sides of the part on which a repair or its glue line is seen."""
    if repair.kind is RepairKind.PATCH:
        return set(_FACES) if repair.depth >= piece.part.thickness - TOLERANCE else {repair.side}
    if repair.kind is RepairKind.SPLICE:
        return set(PartSide)
    if repair.kind is RepairKind.EDGE_STRIP:
        opposite = PartSide.FAR_EDGE if repair.side is PartSide.NEAR_EDGE else PartSide.NEAR_EDGE
        return set(PartSide) - {opposite}
    if repair.kind is RepairKind.SLICE:
        near = Polygon(repair.outline).bounds[0] <= TOLERANCE
        return {repair.side, *_EDGES, PartSide.NEAR_END if near else PartSide.FAR_END}
    return {repair.side}


def _donor(piece: Piece, repair: Repair) -> Iterator[str]:
    donor, rules, part = repair.donor, piece.shop.repairs, piece.part
    if donor is None:
        return
    if donor.board != piece.board.id:
        yield f"takes its wood from board {donor.board}; it must come from the same board"
    x0, y0, x1, y1 = Polygon(repair.outline).bounds
    thick = part.thickness if repair.kind in (RepairKind.SPLICE, RepairKind.EDGE_STRIP) else repair.depth
    if donor.x1 - donor.x0 < x1 - x0 - TOLERANCE or donor.y1 - donor.y0 < y1 - y0 - TOLERANCE:
        yield f"needs a blank of {mm(x1 - x0)} x {mm(y1 - y0)}; the donor is smaller"
    if not thick - TOLERANCE <= donor.thickness <= piece.board.thickness + TOLERANCE:
        yield f"needs a blank {mm(thick)} thick; the donor's is {mm(donor.thickness)}"
    if donor.grain > rules.grain + 1e-6:
        yield f"has its grain {donor.grain:.1f} degrees off; {rules.grain:g} is the most"
    if donor.colour is not None and donor.colour > rules.colour + 1e-6:
        yield f"differs in colour by {donor.colour:.1f}; {rules.colour:g} is the most"
    outside = PartSide.BACK if repair.side is PartSide.BACK else PartSide.FACE
    if donor.face is not piece.board_face(outside):
        yield "has the wrong face of the donor outside"


def _near_sound_zone(piece: Piece, ground: BaseGeometry, apart: float, side: PartSide | None) -> bool:
    zones = [
        Polygon(zone.outline)
        for zone in piece.part.zones
        if zone.rule is ZoneRule.SOUND and (side is None or zone.side in (None, side))
    ]
    if not zones:
        return False
    if apart == 0.0:
        return bool(union_all(zones).intersection(ground).area > TOLERANCE)
    return bool(union_all(zones).distance(ground) < apart - TOLERANCE)


def _depth_from(piece: Piece, defect: Defect, side: PartSide) -> float:
    """How deep a defect goes from a face of the planed part [mm]."""
    top, bottom = depths_in(defect, piece)
    return bottom if side is PartSide.FACE else piece.part.thickness - top
