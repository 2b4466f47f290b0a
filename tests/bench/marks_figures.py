"""Marks on faces whose truth is known: which are hits, which are false, at any setting of the control.

A hit: the middle of a mark's box lies inside a true outline or within the face's slack. Overlap:
intersection over union of at least 0.3. False: on no true outline of any kind; sapwood and wane
excuse only their like.
"""

import time
from collections import Counter
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field

import numpy as np
from shapely import Point, Polygon

from layout.outline import bounds_of
from layout.stock import DefectKind
from tests.bench.faces import GROUP_OF, SCALE, SeenFace, depth_of
from vision.marks import Mark
from vision.suggest.every import DOUBTFUL_PER_METRE, suggest_marks, within_doubt

ANY = frozenset({*GROUP_OF.values()})
_EVERYTHING = 40.0  # doubtful marks a metre: all that the suggesters have


@dataclass
class Hand:
    """A true outline: group, root of its box's area, length along the grain [mm], the marks that meet it,
    and for a crack the share of its length that each mark of a crack runs along, within a millimetre."""

    group: str
    size: float
    long: float
    hit_by: list[int] = field(default_factory=list)
    overlapped_by: list[int] = field(default_factory=list)
    lengths: dict[int, float] = field(default_factory=dict)


@dataclass
class Looked:
    """A face, every mark suggested on it, which of them are false, which the control lets in by default.

    `astray` are those false ones that do not run along half of any crack either.
    """

    face: SeenFace
    marks: list[Mark]
    false: list[bool]
    astray: list[bool]
    truths: list[Hand]
    shown: set[int]
    seconds: float


Pick = Callable[[Hand], bool]


def knot(one: Hand) -> bool:
    return one.group == "knot"


def large_knot(one: Hand) -> bool:
    return one.group == "knot" and one.size >= 10


def long_crack(one: Hand) -> bool:
    return one.group == "crack" and one.long >= 30


def group_of(mark: Mark) -> str:
    return GROUP_OF.get(mark.kind.name, "stain")


def looked_at(face: SeenFace, control: float = DOUBTFUL_PER_METRE) -> Looked:
    begun = time.process_time()
    marks = list(suggest_marks(face.picture, SCALE, doubtful_per_metre=_EVERYTHING))
    seconds = time.process_time() - begun
    within = {id(mark) for mark in within_doubt(marks, face.metres * 1000, control)}  # type: ignore[arg-type]
    shapes = [(Polygon(mark.outline).buffer(0), _middle(mark)) for mark in marks]
    excused = [face.pale and mark.kind is DefectKind.SAPWOOD for mark in marks]
    truths = []
    for group, outline in face.truth:
        hand = Polygon(outline).buffer(0)
        x0, y0, x1, y1 = bounds_of(outline)
        one = Hand(group, float(np.sqrt((x1 - x0) * (y1 - y0))), x1 - x0)
        for index, (shape, middle) in enumerate(shapes):
            if hand.distance(middle) <= face.slack:
                one.hit_by.append(index)
                excused[index] |= group not in ("sapwood", "wane") or group == group_of(marks[index])
            shared = hand.intersection(shape).area
            if shared >= 0.3 * (hand.area + shape.area - shared) > 0:
                one.overlapped_by.append(index)
            if group == "crack" and group_of(marks[index]) == "crack":
                beside = hand.buffer(1.0).intersection(shape)
                if not beside.is_empty:
                    one.lengths[index] = (beside.bounds[2] - beside.bounds[0]) / max(one.long, 1.0)
        if group != "speck":
            truths.append(one)
    shown = {index for index, mark in enumerate(marks) if id(mark) in within}
    false = [not one for one in excused]
    along = {index for one in truths for index, share in one.lengths.items() if share >= 0.5}
    astray = [wrong and index not in along for index, wrong in enumerate(false)]
    return Looked(face, marks, false, astray, truths, shown, seconds)


def _middle(mark: Mark) -> Point:
    x0, y0, x1, y1 = bounds_of(mark.outline)
    return Point((x0 + x1) / 2, (y0 + y1) / 2)


def metres(seen: Iterable[Looked]) -> float:
    return sum(one.face.metres for one in seen)


def false_per_metre(seen: list[Looked], groups: Collection[str] = ANY) -> tuple[float, Counter[str]]:
    """Of the marks shown by default; and what they were taken for."""
    wrong = Counter(
        str(one.marks[index].kind)
        for one in seen
        for index in one.shown
        if one.false[index] and group_of(one.marks[index]) in groups
    )
    return wrong.total() / metres(seen), wrong


def recall(seen: list[Looked], pick: Pick, overlap: bool = False) -> tuple[float, int]:
    """Share of the true outlines picked that marks shown by default hit, and how many there are."""
    met = [
        bool(one.shown & set(truth.overlapped_by if overlap else truth.hit_by))
        for one in seen
        for truth in one.truths
        if pick(truth)
    ]
    return (float(np.mean(met)) if met else float("nan")), len(met)


def recall_at(
    seen: list[Looked], pick: Pick, per_metre: float, groups: Collection[str] = ANY, overlap: bool = False
) -> float:
    """The same with the least score that keeps to so many false marks a metre, marks of these groups only."""
    scores = sorted(
        (one.marks[index].score for one in seen for index in range(len(one.marks)) if one.false[index]
         and group_of(one.marks[index]) in groups),
        reverse=True,
    )  # fmt: skip
    allowed = int(per_metre * metres(seen))
    least = scores[allowed] if allowed < len(scores) else -1.0
    met = [
        any(
            one.marks[index].score > least and group_of(one.marks[index]) in groups
            for index in (truth.overlapped_by if overlap else truth.hit_by)
        )
        for one in seen
        for truth in one.truths
        if pick(truth)
    ]
    return float(np.mean(met)) if met else float("nan")


def under_marks(seen: list[Looked]) -> tuple[float, float]:
    """Share of knots whose middle lies under a mark shown by default; marks a metre that touch nothing true.

    Of knots so near one another that one mark round all of them is right, and each by itself as well.
    """
    under, nothing = [], 0
    for one in seen:
        shown = [Polygon(one.marks[i].outline).buffer(0) for i in one.shown]
        true = [(group, Polygon(ring).buffer(0)) for group, ring in one.face.truth]
        knots = [shape.centroid for group, shape in true if group == "knot"]
        under.extend(any(mark.distance(knot) <= one.face.slack for mark in shown) for knot in knots)
        nothing += sum(all(mark.distance(shape) > one.face.slack for _, shape in true) for mark in shown)
    return (float(np.mean(under)) if under else float("nan")), nothing / metres(seen)


def cracks_along(seen: list[Looked], per_metre: float | None = None) -> tuple[float, float]:
    """Share of cracks from 30 mm that marks run along for half of their length; false cracks a metre so read.

    A mark may run over two labels of one crack, or on where a label ends: its middle is then on
    none, but the maker sees that the crack is found. At the default, or at so many false a metre.
    """
    scores = sorted(
        (one.marks[i].score for one in seen for i in range(len(one.marks))
         if one.astray[i] and group_of(one.marks[i]) == "crack"),
        reverse=True,
    )  # fmt: skip
    allowed = int((per_metre or 0.0) * metres(seen))
    least = scores[allowed] if allowed < len(scores) else -1.0
    met, wrong = [], 0
    for one in seen:
        let_in = {
            i
            for i, mark in enumerate(one.marks)
            if (i in one.shown if per_metre is None else mark.score > least)
        }
        wrong += sum(one.astray[i] and group_of(one.marks[i]) == "crack" for i in let_in)
        shares = (truth.lengths for truth in filter(long_crack, one.truths))
        met.extend(sum(share for i, share in of.items() if i in let_in) >= 0.5 for of in shares)
    return (float(np.mean(met)) if met else float("nan")), wrong / metres(seen)


def sapwood_borders(seen: list[Looked], visible: Callable[[str], bool]) -> tuple[int, int, int, float]:
    """Borders found within 10 mm, borders there are, clear edges marked, boards' worth of clear edges."""
    right = there = wrong = 0
    clear = 0.0
    for one in seen:
        size = one.face.metres * 1000, one.face.picture.shape[0] / SCALE
        true = depth_of([ring for group, ring in one.face.truth if group == "sapwood"], *size)
        said = depth_of(
            [one.marks[i].outline for i in one.shown if one.marks[i].kind is DefectKind.SAPWOOD], *size
        )
        for here, told in zip(true, said, strict=True):
            if visible(one.face.name) and (here > 8).mean() > 0.8 and np.median(here) < 0.7 * size[1]:
                there += 1
                off = np.abs(told - here)[told > 0]
                right += bool((told > 0).mean() > 0.5 and np.median(off) <= 10)
            elif not (here > 0).any() and not one.face.pale:
                clear += 0.5
                wrong += bool((told > 0).any())
    return right, there, wrong, clear
