"""Marks to joint centres: what anatomy says about where a mark sits, never a constant fitted.

A pose model's marks lie where people click when they label pictures: on the skin and its folds. A
joint turns elsewhere, inside. What is put right here, and why:

* **shoulder**: the mark sits on the acromion, the corner of the shoulder. The centre of the
  joint lies 10.4 % of the upper arm's length below it while the arm hangs (de Leva 1996, J Biomech
  29:1231, acromion to shoulder joint centre). As the arm is raised that offset turns: with the
  arm, if it is taken as a share of the arm; with the shoulder blade, which makes a third of the
  arm's turn (the 2:1 rhythm of Inman 1944, from memory), if acromion and socket are taken as one
  bone. The model's mark slides over the skin between the two, and the middle is taken.
* **hip**: seen from the side the mark sits in the fold between trunk and thigh. Labelled hips are
  30-50 mm off the joint (Needham et al. 2021, Sci Rep 11, doi:10.1038/s41598-021-00212-x); 40 mm
  is 8 % of a trunk of 0.5 m, and the fold lies on the bisector of trunk and thigh.
* **knee, elbow**: at the longest reach the limb is straight, which is the zero that a goniometer
  is set by (neutral-zero method). A mark that says otherwise there sits beside the limb's axis,
  by up to the same 30-50 mm, and is moved back by that much; more is the athlete's own bend.
* **elbow** again: bent, its mark sits in the crook, as the hip's does in its fold. An arm is about
  a third as thick as a trunk (8 against 23 cm, from memory), and so is the offset: 13 mm at most.
* **handle**: it lies across the middle of the hand, half a hand's length from the wrist on the line
  to the knuckles (hand 0.108, trunk 0.288 of standing height: Drillis & Contini 1966, in Winter).
* **knee** again: thigh and shank keep their lengths, so hip, ankle and the lengths say how far the
  knee is bent where the mark hides in the fold of a deep catch.
"""

from __future__ import annotations

import numpy as np

from studio.model.arrays import Array

ACROMION_SHARE = 0.104
TURN_SHARE = (1 + 1 / 3) / 2
"""How much of the arm's turn the offset from acromion to joint makes."""
FOLD_SHARE = 0.08
CROOK_SHARE = FOLD_SHARE / 3
GRIP_SHARE = 0.108 / 2 / 0.288
REST_DEG = {"knee": 5.0, "elbow": 3.0}
"""Flexion of a limb that a rower calls straight: pressed down, not locked."""
BOUND_DEG = {"knee": 10.0, "elbow": 14.0}
"""What 40 mm beside the axis does to the angle of a leg (0.45 m a segment) and an arm (0.27 m)."""
LENGTH_SHARE = 0.02
MARK_SHARE = 0.03
"""Trust in a segment's length and in the knee's mark, as standard deviations over the trunk's
length: 1 cm and 1.5 cm. Their balance matters little; both are within the published errors."""
WILD = 6.0
"""A mark this many deviations from where the lengths put the knee has lost half its pull (Cauchy's
weights): in a dark picture it may sit on a hand."""
ROUNDS = 12


def unit(vector: Array) -> Array:
    """(..., 2) scaled to length 1; NaN where there is no length."""
    length = np.linalg.norm(vector, axis=-1, keepdims=True)
    out: Array = vector / np.where(length > 0, length, np.nan)
    return out


def joint_centres(marks: dict[str, Array], toward: int) -> dict[str, Array]:
    """Move shoulder, hip, knee and elbow from their marks to the joints.

    Args:
        marks: name -> (T, 2) px, smoothed, NaN = not known.
        toward: +1 when the flywheel lies to the right.

    Returns:
        The same names; NaN stays NaN, and nothing unknown becomes known.
    """
    p = dict(marks)
    lengths = np.linalg.norm(p["shoulder"] - p["hip"], axis=1)
    if not np.isfinite(lengths).any():
        return p
    trunk = float(np.nanmedian(lengths))
    fold = unit(unit(p["shoulder"] - p["hip"]) + unit(p["knee"] - p["hip"]))
    p["hip"] = p["hip"] - _held(FOLD_SHARE * trunk * fold)
    p["shoulder"] = p["shoulder"] + _held(_below_acromion(p["shoulder"], p["elbow"], p["hip"]))
    hand, forearm = unit(p["handle"] - p["wrist"]), unit(p["wrist"] - p["elbow"])
    hand = np.where(np.isnan(hand), forearm, hand)  # knuckles never seen: a straight wrist
    p["handle"] = p["wrist"] + GRIP_SHARE * trunk * hand
    p["elbow"] = p["elbow"] - _held(_in_crook(p["shoulder"], p["elbow"], p["wrist"], trunk))
    p["elbow"] = _zeroed(p["shoulder"], p["elbow"], p["wrist"], -toward, "elbow")
    p["knee"] = _zeroed(p["hip"], p["knee"], p["ankle"], toward, "knee")
    p["knee"] = _with_lengths(p["hip"], p["knee"], p["ankle"], trunk)
    return p


def _below_acromion(acromion: Array, elbow: Array, hip: Array) -> Array:
    """(T, 2) px from the corner of the shoulder to its joint."""
    arm, down = elbow - acromion, hip - acromion
    cross = down[:, 0] * arm[:, 1] - down[:, 1] * arm[:, 0]
    turn = TURN_SHARE * np.arctan2(cross, (down * arm).sum(1))
    c, s = np.cos(turn), np.sin(turn)
    x, y = unit(down).T
    lengths = np.linalg.norm(arm, axis=1)
    length = float(np.nanmedian(lengths)) if np.isfinite(lengths).any() else 0.0
    way: Array = np.stack([c * x - s * y, s * x + c * y], axis=1)
    return ACROMION_SHARE * length * way


def _in_crook(shoulder: Array, elbow: Array, wrist: Array, trunk: float) -> Array:
    """(T, 2) px from the elbow's joint to the mark in its crook."""
    crook = unit(unit(shoulder - elbow) + unit(wrist - elbow))
    return CROOK_SHARE * trunk * _bent(shoulder, elbow, wrist)[:, None] * crook


def _bent(shoulder: Array, elbow: Array, wrist: Array) -> Array:
    """(T,) how far an arm is bent: 0 straight, 1 folded; the squared cosine of half its angle."""
    share: Array = (1 + (unit(shoulder - elbow) * unit(wrist - elbow)).sum(1)) / 2
    return share


def in_arm_plane(
    points: dict[str, Array], nearer_px: Array, middle_px: Array, focal_px: float
) -> Array:
    """The elbow as it would be seen in the plane of shoulder and hand, (T, 2) px.

    An elbow lifted sideways is nearer to the camera, and what is nearer is seen farther from the
    picture's middle. A straight arm has nothing to lift, and what the backend says of its depth is
    noise: the correction counts as far as the arm is bent.

    Args:
        points: "shoulder", "elbow" and "wrist", (T, 2) px.
        nearer_px: (T,) how much nearer than the shoulder the elbow is, in pixels at the athlete's
            distance; NaN = not known, nothing is corrected.
        middle_px: (2,) the picture's middle.
        focal_px: Focal length in pixels.
    """
    bent = _bent(points["shoulder"], points["elbow"], points["wrist"])
    shrink = 1 - np.nan_to_num(nearer_px * bent) / focal_px
    out: Array = middle_px + (points["elbow"] - middle_px) * shrink[:, None]
    return out


def _held(offset: Array) -> Array:
    """(T, 2) offsets with gaps filled from the nearest known ones; zeros when none is known.

    An offset is a small correction: where the neighbouring joint is out of the picture, that of the
    nearest moment serves better than none.
    """
    good = np.isfinite(offset).all(axis=1)
    if not good.any():
        return np.zeros_like(offset)
    at = np.arange(len(offset))
    return np.stack([np.interp(at, at[good], offset[good, k]) for k in (0, 1)], axis=1)


def flexion(first: Array, middle: Array, last: Array, way: int) -> Array:
    """Signed flexion at `middle` in degrees, 0 = straight, + on the side that `way` (+-1) gives."""
    a, b = middle - first, last - middle
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    out: Array = way * np.degrees(np.arctan2(cross, (a * b).sum(1)))
    return out


def _zeroed(first: Array, middle: Array, last: Array, way: int, joint: str) -> Array:
    """Move a mark across its limb so that the limb at its longest reach reads straight."""
    reach = np.linalg.norm(last - first, axis=1)
    bend = flexion(first, middle, last, way)
    known = np.isfinite(reach) & np.isfinite(bend)
    if known.sum() < 5:
        return middle
    longest = known & (reach >= np.percentile(reach[known], 85))
    bound = BOUND_DEG[joint]
    excess = float(np.clip(np.median(bend[longest]) - REST_DEG[joint], -bound, bound))
    upper = float(np.median(np.linalg.norm(middle - first, axis=1)[longest]))
    lower = float(np.median(np.linalg.norm(last - middle, axis=1)[longest]))
    beside = np.radians(excess) / (1 / upper + 1 / lower)
    axis = unit(last - first)
    across = way * np.stack([axis[:, 1], -axis[:, 0]], axis=1)
    # The mark's distance from the limb's axis shows in full when the limb is straight and turns
    # into the limb's own direction, where it changes no angle, as the joint bends to 90 degrees.
    fade = np.clip(1 - np.abs(bend - excess) / 90, 0, 1)
    moved: Array = middle - across * (beside * fade)[:, None]
    return np.where(np.isnan(moved), middle, moved)  # the far end may be out of the picture


def _with_lengths(hip: Array, mark: Array, ankle: Array, trunk: float) -> Array:
    """The knee that agrees best with its mark and with constant, equal lengths of thigh and shank.

    Hip-knee and knee-ankle are 0.245 and 0.246 of standing height (Drillis & Contini 1966, in
    Winter, Biomechanics and Motor Control of Human Movement, fig. 4.1): equal. Their sum is read
    off the straightest legs of the clip. Gauss-Newton; every frame on its own.
    """
    straight = np.linalg.norm(ankle - hip, axis=1)
    both = np.linalg.norm(mark - hip, axis=1) + np.linalg.norm(ankle - mark, axis=1)
    known = np.isfinite(straight) & np.isfinite(both)
    if known.sum() < 5:
        return mark
    longest = known & (straight >= np.percentile(straight[known], 85))
    length = float(np.median(both[longest])) / 2
    sure_mark, trust_length = 1 / (MARK_SHARE * trunk) ** 2, 1 / (LENGTH_SHARE * trunk) ** 2
    knee = mark.copy()
    for _ in range(ROUNDS):
        away = np.linalg.norm(knee - mark, axis=1)
        trust_mark = sure_mark / (1 + (away / (WILD * MARK_SHARE * trunk)) ** 2)
        slope = trust_mark[:, None] * (knee - mark)
        curve = trust_mark[:, None, None] * np.eye(2)
        for end in (hip, ankle):
            line = knee - end
            reach = np.linalg.norm(line, axis=1, keepdims=True)
            way = line / reach
            slope = slope + trust_length * (reach - length) * way
            curve += trust_length * way[:, :, None] * way[:, None, :]
        knee = knee - np.linalg.solve(curve, slope[..., None])[..., 0]
    return np.where(np.isnan(knee), mark, knee)
