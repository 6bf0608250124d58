"""Brute-force contact of the release model's frame with three closed-form roots, independent of the product's code.

Every frame node and every wall node has its own radial unknown; frame and wall meet by a stiff one-sided penalty along
the wall's true normal. The total energy is brought to its minimum by Newton steps with scipy.sparse. Nothing of the
product's series law is used: the springs find their own balance.

  python3 ring_contact.py > ring_contact.json        numpy and scipy; a few seconds

Variants   linear     both springs linear, no neighbour coupling: the series law must come out
           plateau    the frame alone has the nitinol plateau: what the product's plateau on the series spring leaves out
           coupled    plateau, and neighbours hold each other (frame bending, wall membrane): what a local law leaves out
Units      mm, N, N/mm3. Formulas of the roots: docs/methods/release.md.
"""
import json
import sys

import numpy as np
from scipy.sparse import bmat, coo_matrix, diags, identity, kron
from scipy.sparse.linalg import spsolve

LENGTH, RINGS, SECTORS = 45.0, 46, 48
PLATEAU = 0.20
PENALTY = 50.0  # N/mm3, 500 times the frame: it gives way by less than 0.002 mm


def quintic(t):
    t = np.clip(t, 0, 1)
    return t**3 * (t * (6 * t - 15) + 10)


def step(s, a, b):
    return quintic((s - a) / (b - a))


ZETA = np.linspace(0, LENGTH, RINGS)
THETA = 2 * np.pi * np.arange(SECTORS) / SECTORS
FREE = np.where(ZETA <= 19, 13 - 1.8 * quintic(ZETA / 19), 11.2 + 4.8 * quintic((ZETA - 19) / 26))
K_FRAME = 0.10 - 0.055 * quintic((ZETA - 19) / 26)
WEIGHT = np.full(RINGS, LENGTH / (RINGS - 1))
WEIGHT[[0, -1]] /= 2
BLOCK = 1.942438


def bump(s, centre, spread, azimuth, spread_deg):
    turn = (THETA - azimuth + np.pi) % (2 * np.pi) - np.pi
    return np.exp(-0.5 * ((s - centre) / spread) ** 2)[:, None] * np.exp(-0.5 * (turn / np.radians(spread_deg)) ** 2)[None, :]


def wall(root, s):
    r5, r10 = {"straight": (11.5, 11.5), "tapered": (10.8, 10.0), "calcium": (11.5, 11.5)}[root]
    below = np.where(s < -5, r10 + (r5 - r10) * step(s, -10, -5), r5 + (11.5 - r5) * step(s, -5, 0))
    radius = np.where(s < 0, below, 11.5 * (1 - 0.07 * step(s, 0, 9)))
    top = 16 - 1.5 * step(s, 15.500342, 21) + 2 * step(s, 21, 40.862129)
    radius = radius + (top - radius) * step(s, 9.277892, 15.500342)
    k = 0.06 + 0.08 * step(s, -4.940762, -0.104462) - 0.09 * step(s, -0.000093, 2.984385)
    k = k * (1 - (1 - 0.261481) * step(s, 5.931047, 10.532796))
    k = k + (0.04 - k) * step(s, 10.064003, 19.1023)
    side = 1 - step(s, -5.479746, -0.998795)
    k = k[:, None] * (1 - 0.262049 * side[:, None] * np.cos(THETA)[None, :])
    radius = np.repeat(radius[:, None], SECTORS, 1)
    if root == "calcium":
        g = bump(s, -1.5, 2.5, BLOCK, 22)
        radius, k = radius - 2.5 * g, k + (0.40 - k) * g
    return radius, k


def ring_difference(order):
    one = identity(SECTORS, format="csr")
    shift = coo_matrix((np.ones(SECTORS), (np.arange(SECTORS), (np.arange(SECTORS) + 1) % SECTORS))).tocsr()
    d = shift - one
    return kron(identity(RINGS), d if order == 1 else d @ d).tocsr()


def solve(root, depth, variant):
    s = ZETA - depth
    radius, k_wall = (a.ravel() for a in wall(root, s))
    h = 1e-5
    slope = (wall(root, s + h)[0] - wall(root, s - h)[0]).ravel() / (2 * h)
    cosine = 1 / np.sqrt(1 + slope**2)
    free = np.repeat(FREE, SECTORS)
    k_frame = np.repeat(K_FRAME, SECTORS)
    area = np.repeat(WEIGHT * FREE, SECTORS) * (2 * np.pi / SECTORS)
    plateau = 1e9 if variant == "linear" else PLATEAU
    n = free.size
    frame_link = wall_link = coo_matrix((n, n)).tocsr()
    if variant == "coupled":
        bend, membrane = ring_difference(2), ring_difference(1)
        # A bending length of 2 mm in the frame, a membrane length of 2 mm in the wall (assumptions of this check).
        arc = 2 * np.pi * 12 / SECTORS
        frame_link = bend.T @ diags(area * k_frame) @ bend * (2.0 / arc) ** 4
        wall_link = membrane.T @ diags(area * k_wall) @ membrane * (2.0 / arc) ** 2
    frame, soft = np.zeros(n), np.zeros(n)
    for _ in range(200):
        load = k_frame * np.abs(frame)
        pressure = np.sign(frame) * load / (1 + load / plateau)
        tangent = k_frame / (1 + load / plateau) ** 2
        overlap = (free - frame - radius - soft) * cosine
        touch = overlap > 0
        push = PENALTY * np.where(touch, overlap, 0) * cosine
        stiff = PENALTY * np.where(touch, 1.0, 0) * cosine**2
        g_frame = area * (pressure - push) + frame_link @ frame
        g_wall = area * (k_wall * soft - push) + wall_link @ soft
        size = max(np.abs(g_frame).max(), np.abs(g_wall).max())
        if size < 1e-10:
            break
        kff = diags(area * (tangent + stiff)) + frame_link
        kww = diags(area * (k_wall + stiff)) + wall_link
        kfw = diags(area * stiff)
        step_ = spsolve(bmat([[kff, kfw], [kfw, kww]]).tocsc(), -np.concatenate([g_frame, g_wall]))
        frame, soft = frame + step_[:n], soft + step_[n:]
    else:
        raise RuntimeError(f"{root} {variant}: no rest found, residual {size}")
    contact = overlap > 0
    weights = area * contact
    return {
        "gripN": float((area * push).sum()),
        "meanContactRadiusMm": float((weights * (free - frame)).sum() / weights.sum()),
        "contactAreaMm2": float(weights.sum()),
    }


if __name__ == "__main__":
    answers = [
        {"root": root, "depthMm": 4, "variant": variant, **solve(root, 4.0, variant)}
        for root in ("straight", "tapered", "calcium")
        for variant in ("linear", "plateau", "coupled")
    ]
    json.dump({"madeBy": "test/reference/release/ring_contact.py", "answers": answers}, sys.stdout, indent=1)
    print()
