"""A phone's camera over a board on the bench: the photograph, and the exact truth of it.

Frames: the board as seen (x along, y across, z down into the bench, so that the
face lies at z = 0 and the bench at z = thickness) and OpenCV's camera frame,
x_camera = rotation @ x_seen + shift [mm].
"""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import Face
from samples.wood.ground import GROUNDS, ground_colour
from samples.wood.light import Light, developed, shadow_on_ground, with_focal_length
from samples.wood.noise import Floats
from samples.wood.picture import Shown, WoodClass, edge_picture, face_picture, in_board
from samples.wood.sawn import SawnBoard
from samples.wood.truth import Known, known_faults

__all__ = ["Camera", "Phone", "Photograph", "camera_over", "photograph"]

Doubles = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """A pinhole with a lens.

    Parameters
    ----------
    width, height : int
        Of the picture [px].
    focal : float
        Focal length [px].
    rotation : array [3, 3]
    shift : array [3]
        Seen board to camera [mm].
    k1, k2 : float
        Radial distortion, OpenCV's.
    """

    width: int
    height: int
    focal: float
    rotation: Doubles
    shift: Doubles
    k1: float = 0.0
    k2: float = 0.0

    @property
    def matrix(self) -> Doubles:
        """OpenCV's camera matrix."""
        middle = ((self.width - 1) / 2, (self.height - 1) / 2)
        return np.array([[self.focal, 0, middle[0]], [0, self.focal, middle[1]], [0, 0, 1.0]])

    @property
    def distortion(self) -> Doubles:
        """OpenCV's distortion coefficients."""
        return np.array([self.k1, self.k2, 0.0, 0.0, 0.0])

    def project(self, points: Doubles) -> Doubles:
        """Pixels of seen-board points [n, 3] -> [n, 2]."""
        turn, _ = cv2.Rodrigues(self.rotation)
        found, _ = cv2.projectPoints(points.reshape(-1, 1, 3), turn, self.shift, self.matrix, self.distortion)
        return np.asarray(found, np.float64).reshape(-1, 2)

    def rays(self) -> Floats:
        """Direction of every pixel in the seen-board frame, lens undone [h, w, 3]."""
        px = (np.arange(self.width) - (self.width - 1) / 2) / self.focal
        py = (np.arange(self.height) - (self.height - 1) / 2) / self.focal
        bent = np.hypot(px[None, :], py[:, None])
        # radial distortion changes only the distance from the middle: one table undoes it
        plain = np.linspace(0, 2.0 * float(bent.max()), 8192)
        rising = plain * (1 + self.k1 * plain**2 + self.k2 * plain**4)
        top = int(np.argmax(np.diff(rising, append=-1.0) <= 0)) or len(rising)
        undone = np.interp(bent, rising[:top], plain[:top]) / np.maximum(bent, 1e-12)
        ones = np.ones_like(bent)
        straight = np.stack([px[None, :] * undone, py[:, None] * undone, ones], axis=-1).astype(np.float32)
        return np.asarray(straight @ self.rotation.astype(np.float32), np.float32)

    @property
    def place(self) -> Doubles:
        """Where the camera is, in the seen-board frame [mm]."""
        return np.asarray(-self.rotation.T @ self.shift, np.float64)


FILM_DIAGONAL = float(np.hypot(36.0, 24.0))  # [mm]


@dataclass(frozen=True)
class Phone:
    """A phone: its focal length in terms of 35 mm film [mm], and its lens."""

    focal_35mm: int = 26
    k1: float = 0.0
    k2: float = 0.0


def camera_over(
    board: SawnBoard,
    rng: np.random.Generator,
    width: int = 2400,
    height: int = 1350,
    fill: float = 0.86,
    tilt: float = 8.0,
    bow: float = 0.05,
    phone: Phone | None = None,
) -> Camera:
    """A hand-held camera above a board that fills `fill` of the picture's width.

    `tilt` is the greatest angle off square [degrees], `bow` the greatest abs(k1);
    a `phone` has one lens for all its pictures.
    """
    focal = width * float(rng.uniform(0.72, 0.86))
    if phone is not None:
        focal = phone.focal_35mm * float(np.hypot(width, height)) / FILM_DIAGONAL
    lean = np.radians(rng.uniform(-tilt, tilt, 2))
    roll = np.radians(rng.uniform(-4, 4))
    turn = cv2.Rodrigues(np.array([lean[0], 0, 0]))[0] @ cv2.Rodrigues(np.array([0, lean[1], 0]))[0]
    rotation = np.asarray(cv2.Rodrigues(np.array([0, 0, roll]))[0] @ turn, np.float64)
    far = focal * board.length / (fill * width)
    middle = np.array([board.length / 2, board.width / 2, 0.0])
    aim = np.array([rng.uniform(-0.02, 0.02) * width, rng.uniform(-0.12, 0.12) * height])
    shift = np.array([aim[0] * far / focal, aim[1] * far / focal, far]) - rotation @ middle
    k1 = float(rng.uniform(-bow, bow))
    k2 = float(rng.uniform(-0.2, 0.1)) * k1
    if phone is not None:
        k1, k2 = phone.k1, phone.k2
    return Camera(width, height, focal, rotation, shift, k1, k2)


@dataclass(frozen=True)
class Photograph:
    """A photograph and what is true of it.

    Parameters
    ----------
    jpeg : bytes
    camera : Camera
    corners_px : array [4, 2]
        The seen face's corners: top left, top right, bottom right, bottom left as the board is seen.
    sheet_px : array [4, 2] or None
        Corners of the paper sheet on the bench.
    face : Face
    faults : tuple of Known
        In the board frame [mm].
    outlines_px : dict of str to list of array [n, 2]
        The faults' outlines in the photograph, those that show on this face.
    """

    jpeg: bytes
    camera: Camera
    corners_px: Doubles
    sheet_px: Doubles | None
    face: Face
    faults: tuple[Known, ...]
    outlines_px: dict[str, list[Doubles]]
    facts: dict[str, Any] = field(default_factory=dict)


def photograph(
    board: SawnBoard,
    face: Face,
    camera: Camera,
    seed: int,
    ground: str = "bench",
    light: Light | None = None,
    sheet: bool = False,
    quality: int = 88,
    shown: Shown | None = None,
    faults: tuple[Known, ...] | None = None,
) -> Photograph:
    """The board's face photographed as it lies on the ground."""
    if ground not in GROUNDS:
        raise ValueError(f"ground is {ground!r}; choose from {', '.join(GROUNDS)}")
    rng = np.random.default_rng(seed)
    light = light or Light.some(rng)
    shown = shown or face_picture(board, face, max(1.0, 1.25 * camera.focal / float(camera.shift[2])), fine=2)
    rays = camera.rays()
    scene = _ground(board, camera, rays, ground, light, rng, shown)
    sheet_mm = _sheet_corners(board, rng) if sheet else None
    if sheet_mm is not None:
        _paint_sheet(scene, camera, sheet_mm)
    _paint_sides(scene, board, face, camera, rays, light)
    _paint_face(scene, board, camera, rays, shown)
    jpeg = developed(scene, light, rng, quality)
    film = camera.focal * FILM_DIAGONAL / float(np.hypot(camera.width, camera.height))
    jpeg = with_focal_length(jpeg, round(film))
    faults = known_faults(board) if faults is None else faults
    length, width = board.length, board.width
    corners = np.array([[0, 0, 0], [length, 0, 0], [length, width, 0], [0, width, 0]], np.float64)
    return Photograph(
        jpeg,
        camera,
        camera.project(corners),
        None if sheet_mm is None else camera.project(sheet_mm),
        face,
        faults,
        _outlines_px(board, face, camera, faults),
        {"ground": ground, "light": light},
    )


def _outlines_px(
    board: SawnBoard, face: Face, camera: Camera, faults: tuple[Known, ...]
) -> dict[str, list[Doubles]]:
    found = {}
    for known in faults:
        rings = []
        for outline in known.shows.get(face, ()):
            flat = np.asarray(outline, np.float32)
            x, y = in_board(board, face, flat[:, 0], flat[:, 1])
            rings.append(camera.project(np.column_stack([x, y, np.zeros_like(x)]).astype(np.float64)))
        if rings:
            found[known.id] = rings
    return found


def _meet(camera: Camera, rays: Floats, axis: int, value: float) -> tuple[Floats, NDArray[np.bool_]]:
    """Where the rays meet the plane coordinate[axis] = value [h, w, 3], and whether they do in front."""
    place = camera.place.astype(np.float32)
    slope = rays[..., axis]
    safe = np.where(np.abs(slope) < 1e-6, np.float32(1e-6), slope)
    far = (np.float32(value) - place[axis]) / safe
    return np.asarray(place + far[..., None] * rays, np.float32), np.asarray(far > 0, np.bool_)


def _ground(
    board: SawnBoard,
    camera: Camera,
    rays: Floats,
    ground: str,
    light: Light,
    rng: np.random.Generator,
    shown: Shown,
) -> Floats:
    at, _ = _meet(camera, rays, 2, board.thickness)
    x, y = np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1])
    colour = ground_colour(ground, x, y, board, int(rng.integers(1, 9999)))
    wood = np.asarray(shown.classes != WoodClass.NO_WOOD, np.float32)
    colour *= shadow_on_ground(x, y, wood, shown.px_per_mm, board.thickness, light)[..., None]
    return colour


def _paint_face(scene: Floats, board: SawnBoard, camera: Camera, rays: Floats, shown: Shown) -> None:
    scale = shown.px_per_mm
    at, _ = _meet(camera, rays, 2, 0.0)
    x, y = at[..., 0], at[..., 1]
    rows, columns = np.nonzero((x > -3) & (x < board.length + 3) & (y > -60) & (y < board.width + 60))
    if len(rows) == 0:
        return
    window = (slice(int(rows.min()), int(rows.max()) + 1), slice(int(columns.min()), int(columns.max()) + 1))
    x, y, rays = x[window], y[window], rays[window]
    place = camera.place
    if board.waney:  # follow each ray down to the bark
        for _ in range(6):
            map_x, map_y = _to_pixels(x, y, scale)
            deep = cv2.remap(shown.below, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            far = (deep - place[2]) / rays[..., 2]
            x, y = place[0] + far * rays[..., 0], place[1] + far * rays[..., 1]
    map_x, map_y = _to_pixels(x, y, scale)
    wood = (shown.classes != WoodClass.NO_WOOD).astype(np.float32)
    alpha = cv2.remap(wood, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    # the edge of the board cuts a pixel into shares
    per_px = camera.focal / float(camera.shift[2])
    for low in (x, board.length - x, y, board.width - y):
        alpha = alpha * np.clip(low * per_px + 0.5, 0, 1)
    colour = cv2.remap(shown.rgb, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    scene[window] += (colour.astype(np.float32) - scene[window]) * alpha[..., None].astype(np.float32)


def _to_pixels(x: Floats, y: Floats, scale: float) -> tuple[Floats, Floats]:
    return (x * scale - 0.5).astype(np.float32), (y * scale - 0.5).astype(np.float32)


def _paint_sides(
    scene: Floats, board: SawnBoard, face: Face, camera: Camera, rays: Floats, light: Light
) -> None:
    """The edges and ends that the camera can see."""
    place = camera.place
    size = (board.length, board.width)
    for axis in (0, 1):
        for high in (False, True):
            value = size[axis] if high else 0.0
            if (place[axis] > value) != high or (board.waney and axis == 1):
                continue
            window = _window_of(board, camera, axis, value)
            if window is None:
                continue
            at, front = _meet(camera, rays[window], axis, value)
            run, deep = at[..., 1 - axis], at[..., 2]
            seen = front & (run >= 0) & (run <= size[1 - axis]) & (deep >= -0.5) & (deep <= board.thickness)
            if seen.any():
                colour = _side_colour(board, face, axis, high, run[seen], deep[seen])
                scene[window][seen] = colour * np.float32(light.on_side(axis, high))


def _window_of(board: SawnBoard, camera: Camera, axis: int, value: float) -> tuple[slice, slice] | None:
    """The window of the picture that holds an edge or end, None if it is out of the picture."""
    run = (board.width, board.length)[axis]
    t = np.linspace(0, run, 24)
    corners = np.zeros((48, 3))
    corners[:, 1 - axis] = np.concatenate([t, t])
    corners[:, axis] = value
    corners[24:, 2] = board.thickness
    at = camera.project(corners)
    left, top = np.maximum(np.floor(at.min(axis=0)).astype(int) - 3, 0)
    right, low = np.minimum(np.ceil(at.max(axis=0)).astype(int) + 4, (camera.width, camera.height))
    return (slice(top, low), slice(left, right)) if right > left and low > top else None


def _side_colour(board: SawnBoard, face: Face, axis: int, high: bool, run: Floats, deep: Floats) -> Floats:
    """Colours on an edge or end at seen positions along it and below the face."""
    flat = np.asarray(run, np.float32)
    border = np.full(run.shape, (board.length, board.width)[axis] if high else 0.0, np.float32)
    seen_x, seen_y = (flat, border) if axis == 1 else (border, flat)
    x, y = in_board(board, face, seen_x, seen_y)
    if axis == 1:
        side, along = ("far edge" if float(y[0]) > board.width / 2 else "near edge"), x
    else:
        side, along = ("far end" if float(x[0]) > board.length / 2 else "near end"), y
    z = deep if face is Face.FRONT else board.thickness - deep
    picture = edge_picture(board, side, 1.5)
    at_x, at_y = _to_pixels(along, np.asarray(z, np.float32), 1.5)
    colour = cv2.remap(
        picture, at_x[:, None], at_y[:, None], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(colour[:, 0], np.float32)


def _sheet_corners(board: SawnBoard, rng: np.random.Generator) -> Doubles:
    """An A4 sheet on the bench beside the board, in the seen-board frame [mm]."""
    turn = float(rng.uniform(-0.25, 0.25))
    beyond = board.width + float(rng.uniform(20, 60))
    left = float(rng.uniform(0.2, 0.7)) * board.length
    flat = np.array([[0, 0], [297, 0], [297, 210], [0, 210]], np.float64)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    placed = flat @ spin + (left, beyond + 60)
    return np.column_stack([placed, np.full(4, board.thickness)])


def _paint_sheet(scene: Floats, camera: Camera, sheet: Doubles) -> None:
    fine = 16
    corners = (camera.project(sheet) * fine).round().astype(np.int32)
    mask = np.zeros(scene.shape[:2], np.uint8)
    cv2.fillPoly(mask, [corners.reshape(-1, 1, 2)], 255, cv2.LINE_AA, 4)
    share = mask.astype(np.float32)[..., None] / 255
    scene += (np.array((236.0, 235.0, 230.0), np.float32) - scene) * share
