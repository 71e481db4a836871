"""A shaded mannequin of capsules, to film a known movement from where no camera stood."""

from dataclasses import dataclass

import cv2
import numpy as np

Array = np.ndarray
SKIN, SHIRT, SHORTS, SHOES, HAIR, STEEL, DARK = (
    (205, 160, 130), (40, 95, 150), (35, 35, 50), (230, 230, 230), (60, 40, 30), (150, 150, 155),
    (45, 45, 48),
)  # fmt: skip


def at(x: float, y: float, z: float) -> Array:
    """A point or a way, metres."""
    return np.array([x, y, z])


@dataclass(frozen=True)
class Capsule:
    """Two balls and all between: ends (3,) metres, radii, colour."""

    a: Array
    b: Array
    ra: float
    rb: float
    colour: tuple[int, int, int]


class Camera:
    """Pinhole, level: at `dist` m from `target`, `yaw` degrees off square toward the flywheel.

    World axes: +x toward the flywheel, +z up; `side` -1 films the side y < 0.
    """

    def __init__(self, size: tuple[int, int], yaw: float, side: int, dist: float = 4.3) -> None:
        self.size = size
        target = np.array([-0.42, 0.0, 0.62])
        c, s = np.cos(np.radians(yaw)), np.sin(np.radians(yaw))
        self.eye = target + dist * np.array([s, side * c, 0.0]) + np.array([0, 0, 0.33])
        forward = target - self.eye
        self.forward = forward / np.linalg.norm(forward)
        self.right = np.cross(self.forward, [0, 0, 1.0])
        self.right /= np.linalg.norm(self.right)
        self.down = np.cross(self.forward, self.right)
        self.focal = 1.2375 * size[0]

    def seen(self, points: Array) -> Array:
        """(..., 3) metres -> (..., 3): x px, y px, depth m."""
        off = points - self.eye
        z = off @ self.forward
        x = self.focal * (off @ self.right) / z + self.size[0] / 2
        y = self.focal * (off @ self.down) / z + self.size[1] / 2
        return np.stack([x, y, z], axis=-1)


def rower(p: dict[str, list[float]], side: int) -> list[Capsule]:
    """A body about the joints of the near side, (3,) metres each; the far side is its mirror."""
    near = {n: np.array(v) for n, v in p.items()}
    far = {n: v * at(1, -1, 1) for n, v in near.items()}
    out: list[Capsule] = []
    for s, limb in ((side, near), (-side, far)):
        ball = limb["heel"] + 0.7 * (limb["toe"] - limb["heel"])
        shoulder = limb["shoulder"]
        grip = limb["handle"] + at(0.02, 0.17 * s, -0.02)
        chest = shoulder * at(1, 0.62, 1) - at(0, 0, 0.03)
        out += [
            Capsule(shoulder, limb["elbow"], 0.052, 0.042, SHIRT),
            Capsule(limb["elbow"], limb["wrist"], 0.040, 0.028, SKIN),
            Capsule(limb["wrist"], limb["knuckle"], 0.030, 0.032, SKIN),
            Capsule(limb["knuckle"], grip, 0.026, 0.026, SKIN),
            Capsule(limb["hip"], limb["knee"], 0.085, 0.058, SHORTS),
            Capsule(limb["knee"], limb["ankle"], 0.056, 0.038, SKIN),
            Capsule(limb["heel"], ball, 0.035, 0.038, SHOES),
            Capsule(ball, limb["toe"], 0.036, 0.026, SHOES),
            Capsule(0.5 * (limb["ankle"] + limb["heel"]), limb["ankle"], 0.042, 0.04, SHOES),
            Capsule(limb["hip"] * at(1, 0.7, 1), chest, 0.105, 0.10, SHIRT),
            Capsule(limb["hip"], limb["hip"] * at(1, 0.4, 1), 0.10, 0.11, SHORTS),
            Capsule(shoulder, shoulder * at(1, 0.3, 1), 0.055, 0.07, SHIRT),
        ]  # fmt: skip
    return out + _head(near["ear"], near["shoulder"]) + _machine(near)


def _head(ear: Array, shoulder: Array) -> list[Capsule]:
    middle = np.array([1.0, 0.0, 1.0])
    centre, neck = ear * middle, shoulder * middle
    up = np.array([0.0, 0.0, 1.0])
    face = np.array([1.0, 0.0, -0.05])
    skull = centre + 0.03 * face + 0.01 * up
    out = [
        Capsule(neck, centre + at(0.0, 0, -0.06), 0.055, 0.055, SKIN),
        Capsule(skull + 0.035 * up, skull - 0.05 * up + 0.02 * face, 0.085, 0.06, SKIN),
        Capsule(skull + 0.055 * up - 0.025 * face, skull + 0.01 * up - 0.05 * face, 0.085, 0.075,
                HAIR),
        Capsule(skull + 0.085 * face - 0.005 * up, skull + 0.105 * face - 0.02 * up, 0.014, 0.014,
                SKIN),
    ]  # fmt: skip
    for s in (-1, 1):
        side = np.array([0.0, s, 0.0])
        eye = skull + 0.072 * face + 0.022 * up + 0.032 * side
        out.append(Capsule(eye, eye, 0.012, 0.012, (30, 25, 25)))
        out.append(Capsule(eye + 0.022 * up, eye + 0.022 * up + 0.012 * side, 0.008, 0.008, HAIR))
        ear_lobe = centre + 0.078 * side - 0.03 * up
        out.append(Capsule(centre + 0.078 * side, ear_lobe, 0.014, 0.012, (190, 140, 112)))
    mouth = skull + 0.075 * face - 0.055 * up
    out.append(Capsule(mouth - at(0, 0.02, 0), mouth + at(0, 0.02, 0), 0.01, 0.01, (165, 95, 90)))
    return out


def _machine(p: dict[str, Array]) -> list[Capsule]:
    seat = p["hip"] * at(1, 0, 1) - at(0, 0, 0.13)
    handle = p["handle"] * at(1, 0, 1)
    level = seat[2] - 0.06
    wheel = np.array([0.62, 0, 0.36])
    return [
        Capsule(seat - at(0.08, 0, 0), seat + at(0.08, 0, 0), 0.045, 0.045, DARK),
        Capsule(np.array([-1.35, 0, level]), np.array([0.35, 0, level]), 0.035, 0.035, STEEL),
        Capsule(wheel - at(0, 0.06, 0), wheel + at(0, 0.06, 0), 0.20, 0.20, DARK),
        Capsule(wheel + at(0, 0, 0.1), np.array([0.45, 0, 0.62]), 0.015, 0.015, DARK),
        Capsule(handle - at(0, 0.2, 0), handle + at(0, 0.2, 0), 0.016, 0.016, DARK),
        Capsule(handle, np.array([0.45, 0, 0.62]), 0.005, 0.005, STEEL),
        Capsule(np.array([-1.3, 0, level]), np.array([-1.3, 0, 0.0]), 0.02, 0.02, STEEL),
    ]


def room(size: tuple[int, int]) -> Array:
    """A floor with boards, a wall with a window and a rack: things to see that stand still."""
    w, h = size
    y = np.arange(h)[:, None] * np.ones((1, w))
    image = np.empty((h, w, 3), np.float32)
    image[:] = np.array([176, 178, 170]) - (y / h * 30)[..., None]
    horizon = h * 0.73
    image[y > horizon] = (120, 104, 86)
    rng = np.random.default_rng(3)
    for x in np.linspace(0.05, 0.95, 12):
        cv2.line(image, (round(w * (0.5 + 1.6 * (x - 0.5))), h), (round(w * x), round(horizon)),
                 (96, 82, 68), 1)  # fmt: skip
    for x in (0.08, 0.55, 0.78):
        tone = tuple(float(v) for v in rng.uniform(120, 220, 3))
        cv2.rectangle(image, (round(w * x), round(h * 0.1)),
                      (round(w * (x + 0.14)), round(h * 0.42)), tone, -1)  # fmt: skip
        cv2.rectangle(image, (round(w * x), round(h * 0.1)),
                      (round(w * (x + 0.14)), round(h * 0.42)), (70, 70, 72), 3)  # fmt: skip
    return image


def draw(image: Array, capsules: list[Capsule], camera: Camera) -> Array:
    """Paint capsules over an (H, W, 3) float32 picture, nearest in front; returns the matte."""
    h, w = image.shape[:2]
    depth = np.full((h, w), np.inf, np.float32)
    light = np.array([-0.35, -0.75, -0.55])
    for one in capsules:
        _paint(image, depth, one, camera, light)
    return np.isfinite(depth)


def _paint(image: Array, depth: Array, one: Capsule, camera: Camera, light: Array) -> None:
    """A capsule seen from afar: balls along its axis, each pixel taking the nearest to it."""
    ends = camera.seen(np.stack([one.a, one.b]))
    radii = camera.focal * np.array([one.ra, one.rb]) / ends[:, 2]
    low = np.floor((ends[:, :2] - radii[:, None]).min(axis=0)).astype(int)
    high = np.ceil((ends[:, :2] + radii[:, None]).max(axis=0)).astype(int) + 1
    h, w = depth.shape
    x0, y0 = np.clip(low, 0, (w, h))
    x1, y1 = np.clip(high, 0, (w, h))
    if x1 <= x0 or y1 <= y0:
        return
    gx, gy = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    axis = ends[1, :2] - ends[0, :2]
    long = float(axis @ axis)
    t = ((gx - ends[0, 0]) * axis[0] + (gy - ends[0, 1]) * axis[1]) / max(long, 1e-9)
    t = np.clip(t, 0, 1) if long > 1 else np.full_like(gx, float(ends[1, 2] < ends[0, 2]))
    r = radii[0] + t * (radii[1] - radii[0])
    nx, ny = (gx - ends[0, 0] - t * axis[0]) / r, (gy - ends[0, 1] - t * axis[1]) / r
    flat = nx**2 + ny**2
    nz = np.sqrt(np.clip(1 - flat, 0, 1))
    size = one.ra + t * (one.rb - one.ra)
    z = ends[0, 2] + t * (ends[1, 2] - ends[0, 2]) - nz * size
    part = (slice(y0, y1), slice(x0, x1))
    front = (flat <= 1) & (z < depth[part])
    tone = 0.45 + 0.6 * np.clip(nx * light[0] + ny * light[1] - nz * light[2], 0, 1)
    image[part][front] = (np.array(one.colour) * tone[..., None])[front]
    depth[part][front] = z[front]


@dataclass(frozen=True)
class Walker:
    """Somebody who walks past."""

    def drawn(self, size: tuple[int, int], phase: float) -> tuple[Array, Array]:
        """(H, W, 3) uint8 picture and (H, W) matte of the walker at a phase of the gait, rad."""
        swing, knee = 0.45 * np.sin(phase), 0.5
        camera = Camera(size, 0.0, -1, dist=3.0)
        camera.eye = np.array([0.0, -4.0, 0.9])
        camera.forward, camera.right, camera.down = np.eye(3)[[1, 0, 2]] * [[1], [1], [-1]]
        camera.focal = size[1] * 2.0
        body: list[Capsule] = []
        hip0, neck = np.array([0, 0, 0.92]), np.array([0.02, 0, 1.45])
        for s in (-1, 1):
            hip, shoulder = hip0 + at(0, 0.09 * s, 0), neck + at(0, 0.18 * s, -0.03)
            a = s * swing
            kn = hip + 0.43 * np.array([np.sin(a), 0, -np.cos(a)])
            b = a - knee * max(0.0, np.cos(phase) * s)
            an = kn + 0.42 * np.array([np.sin(b), 0, -np.cos(b)])
            el = shoulder + 0.28 * np.array([np.sin(-a), 0, -np.cos(a)])
            wr = el + 0.25 * np.array([np.sin(0.4 - a), 0, -np.cos(0.4 - a)])
            body += [Capsule(hip, kn, 0.085, 0.06, (60, 70, 60)),
                     Capsule(kn, an, 0.06, 0.045, (60, 70, 60)),
                     Capsule(an, an + at(0.15, 0, -0.04), 0.04, 0.035, (40, 30, 25)),
                     Capsule(shoulder, el, 0.05, 0.042, (150, 60, 60)),
                     Capsule(el, wr, 0.04, 0.03, (150, 60, 60)),
                     Capsule(wr, wr + at(0.02, 0, -0.08), 0.03, 0.03, SKIN),
                     Capsule(hip, neck + at(0, 0.1 * s, -0.08), 0.1, 0.1, (150, 60, 60)),
                     ]  # fmt: skip
        ear = neck + at(0.03, 0, 0.17)
        body += _head(ear, neck)
        image = np.zeros((size[1], size[0], 3), np.float32)
        matte = draw(image, body, camera)
        return image.clip(0, 255).astype(np.uint8), matte.astype(np.float32)
