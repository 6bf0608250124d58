"""The root inside a chest: which tissue lies at a point, and how bright each tissue is.

`Scene.label(points)` takes LPS points and gives one tissue number per point; the last body painted wins.
"""
import numpy as np
from scipy.spatial import cKDTree

from shape import Z_HIGH, Z_LOW, Root, draw_recipe, look_up, smooth_step, wrap

AIR, FAT, LUNG, MUSCLE, BONE, MARROW, LIVER, MYOCARDIUM, WALL, LEAFLET = range(10)
AORTA, VENTRICLE, ATRIUM, RIGHT_HEART, RIGHT_ATRIUM, PULMONARY, CAVA, DESCENDING, ARTERY = range(10, 19)
FIRST_DEPOSIT = 20


class Ellipsoid:
    def __init__(self, centre, half, axes=None):
        axes = np.eye(3) if axes is None else np.asarray(axes, float)
        self.centre = np.asarray(centre, np.float32)
        self.to_unit = (axes / np.asarray(half, float)).astype(np.float32)  # columns are axes over half lengths
        self.largest = float(max(half))

    def value(self, p):
        """Below 1 inside; its root is the share of the half length. 9 far away."""
        out = np.full(len(p), 9.0, np.float32)
        near = list_near(p, self.centre - self.largest, self.centre + self.largest)
        q = (p[near] - self.centre) @ self.to_unit
        out[near] = np.einsum("ij,ij->i", q, q)
        return out

    def grown(self, mm):
        other = Ellipsoid.__new__(Ellipsoid)
        lengths = 1 / np.linalg.norm(self.to_unit, axis=0)
        other.centre, other.to_unit = self.centre, (self.to_unit * lengths / (lengths + mm)).astype(np.float32)
        other.largest = self.largest + mm
        return other


def list_near(p, low, high):
    """Indices of the points in a box, one axis after the other: most points leave at the first."""
    near = np.nonzero((p[:, 0] > low[0]) & (p[:, 0] < high[0]))[0]
    near = near[(p[near, 1] > low[1]) & (p[near, 1] < high[1])]
    return near[(p[near, 2] > low[2]) & (p[near, 2] < high[2])]


class Pipe:
    """A thin tube about a curve, radius by place; the curve is given by close points."""

    REACH = 2.5

    def __init__(self, path, radius):
        self.path, self.radius = np.asarray(path, float), np.broadcast_to(radius, len(path)).astype(float)
        self.tree = cKDTree(self.path)
        self.far = self.radius.max() + self.REACH
        self.low, self.high = self.path.min(0) - self.far, self.path.max(0) + self.far

    def outside(self, p):
        """mm outside the tube's surface, for points near it; 9 elsewhere."""
        away = np.full(len(p), 9.0, np.float32)
        near = list_near(p, self.low, self.high)
        if len(near):
            distance, at = self.tree.query(p[near], distance_upper_bound=self.far)
            found = np.isfinite(distance)
            away[near[found]] = distance[found] - self.radius[at[found]]
        return away


class Rods:
    """A wide vessel: rods with round ends, one after the other."""

    def __init__(self, corners, radius):
        self.corners, self.radius = np.asarray(corners, np.float32), radius
        self.low, self.high = self.corners.min(0) - radius - 3, self.corners.max(0) + radius + 3

    def outside(self, p):
        away = np.full(len(p), 9.0, np.float32)
        near = list_near(p, self.low, self.high)
        if len(near):
            square = np.full(len(near), 1e6, np.float32)
            for a, b in zip(self.corners[:-1], self.corners[1:]):
                along, q = b - a, p[near] - a
                t = np.clip(q @ along / (along @ along), 0, 1)
                off = q - t[:, None] * along
                square = np.minimum(square, np.einsum("ij,ij->i", off, off))
            away[near] = np.sqrt(square) - self.radius
        return away


def unit(v):
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)


class Scene:
    def __init__(self, seed):
        self.seed = seed
        rng = np.random.default_rng([79, seed])
        self.root = Root(draw_recipe(seed))
        between = lambda low, high: float(rng.uniform(low, high))
        self.angulation_deg = between(30, 65)
        lean, turn, roll = np.radians(self.angulation_deg), np.radians(between(8, 50)), np.radians(between(-20, 20))
        e3 = np.array([-np.sin(lean) * np.cos(turn), -np.sin(lean) * np.sin(turn), np.cos(lean)])
        forward = unit(np.array([0.25, -1.0, 0]) - e3 * (e3 @ np.array([0.25, -1.0, 0])))
        sideways = np.cross(e3, forward)
        e1 = np.cos(roll) * forward + np.sin(roll) * sideways
        self.axes = np.stack([e1, np.cross(e3, e1), e3], 1)  # columns, LPS
        self.place = np.array([between(-25, 25), between(-40, 30), between(-300, 900)])  # the root frame's origin, LPS
        head = self.axes.T @ np.array([0, 0, 1.0])
        self.root.lean_aorta(unit(head[:2]))
        self.root._lead_arteries()
        self._draw_levels(rng)
        self._place_chambers(rng)

    def lps(self, p):
        return self.place + np.asarray(p) @ self.axes.T

    def local(self, p):
        return (p - self.place) @ self.axes

    def _draw_levels(self, rng):
        u = rng.uniform
        blood = u(250, 600)
        right = blood * u(0.3, 0.8)
        self.gradient_per_mm = u(-0.0012, 0.0012)
        self.blood_hu = blood
        levels = np.zeros(FIRST_DEPOSIT + len(self.root.calcium))
        levels[[AIR, FAT, LUNG, MUSCLE, BONE, MARROW, LIVER]] = [-1000, u(-110, -80), u(-880, -780), u(45, 65), u(400, 700), u(150, 260), u(70, 110)]
        levels[[MYOCARDIUM, WALL, LEAFLET]] = [u(85, 130), u(45, 85), u(55, 95)]
        levels[[AORTA, VENTRICLE, ATRIUM, DESCENDING, ARTERY]] = [blood, blood * u(0.95, 1.03), blood * u(0.88, 1.08), blood * u(0.93, 1.02), blood]
        levels[[RIGHT_HEART, RIGHT_ATRIUM, PULMONARY, CAVA]] = [right, right * u(0.8, 1.1), right * u(0.9, 1.2), u(80, 700)]
        levels[FIRST_DEPOSIT:] = [d["hu"] for d in self.root.calcium]
        self.levels = levels.astype(np.float32)

    def _place_chambers(self, rng):
        u = rng.uniform
        down = unit(self.axes.T @ np.array([0.62, -0.45, -0.65]))  # toward the apex: left, forward, down
        down = unit(down + np.array([0, 0, -0.7]))
        side = unit(np.cross(down, [0, 1.0, 0]))
        frame = np.stack([side, np.cross(down, side), down], 1)
        self.chamber_top = -14.0 - u(0, 2.5)
        half = np.array([u(21, 26), u(21, 26), u(40, 48)])
        middle = np.array([-9.0, 2.0, self.chamber_top - 6]) + down * half[2] * 0.42
        self.chamber = Ellipsoid(middle, half, frame)
        self.muscle = self.chamber.grown(u(8.5, 11.5))
        self.papillary = [
            Ellipsoid(middle + frame @ np.array([half[0] * 0.62 * np.cos(a), half[1] * 0.62 * np.sin(a), u(0, 10)]), [u(3.5, 5.5), u(3.5, 5.5), u(9, 13)], frame)
            for a in (u(0, 1.2) + 2.0, u(0, 1.2) + 4.4)
        ]
        self.atrium = Ellipsoid([-(self.root.recipe["ring_radius_mm"] + 24 + u(0, 3)), u(-4, 6), 8 + u(0, 5)], [u(20, 23), u(24, 30), u(18, 23)])
        self.atrium_wall = self.atrium.grown(2.0)
        self.right_atrium = Ellipsoid([-2 + u(-4, 4), -(self.root.recipe["ring_radius_mm"] + 25 + u(0, 4)), 0 + u(-5, 5)], [u(22, 28), u(18, 21), u(22, 27)])
        self.right_atrium_wall = self.right_atrium.grown(1.8)
        self.right_heart = Ellipsoid([32 + u(-3, 3), -8 + u(-4, 4), -34 + u(-4, 4)], [u(20, 26), u(30, 36), u(28, 34)])
        self.right_wall = self.right_heart.grown(3.0)
        out = self.root.recipe["ring_radius_mm"]
        self.trunk = Rods([[out + 21, -4, -18], [out + 20, 16, 4], [out + 8, 34, 22], [-2, 40, 40]], u(10.5, 12.5))
        head = self.axes.T @ np.array([0, 0, 1.0])
        start = np.array([-14.0, -out - 26, 24.0])
        self.cava = Rods([start, start + 90 * head], u(7, 9))
        self.arteries = [Pipe(a["path"], a["radius"]) for a in self.root.arteries.values()]
        self.wall_mm = u(1.4, 2.4)
        self.septum_mm = u(8.5, 12)
        self.deposits = [Ellipsoid(d["centre"], d["half"], d["axes"]) for d in self.root.calcium]
        # Chest, in LPS about the root: heart sac, lungs, chest wall, spine, breast bone, descending aorta.
        x, y, _ = self.place
        self.spine_at, self.descending_at = (x - 12 + u(-4, 4), y + 88), (x + 20, y + 62 + u(-4, 4))
        self.sac = (x + 8, y + 4, 66 + u(-5, 5), 70 + u(-5, 5))

    def label(self, points):
        """points (N, 3) LPS float32 -> uint8 tissue."""
        q = self.local(points).astype(np.float32)
        rel = points - self.place.astype(np.float32)
        out = np.full(len(q), LUNG, np.uint8)
        self._paint_chest(points, rel, out)
        heart = np.nonzero(np.einsum("ij,ij->i", q, q) < 120.0**2)[0]
        if len(heart):
            part = out[heart]
            self._paint_heart(q[heart], part)
            out[heart] = part
        return out

    def _paint_chest(self, points, rel, out):
        px, py = points[:, 0], points[:, 1]
        x0, y0, a, b = self.sac
        body = ((px - self.place[0]) / 165) ** 2 + ((py - self.place[1] - 15) / 118) ** 2
        out[((px - x0) / a) ** 2 + ((py - y0) / b) ** 2 < 1] = FAT
        out[(rel[:, 2] < -75 - 0.0015 * (rel[:, 0] ** 2 + rel[:, 1] ** 2)) & (rel[:, 0] < 40)] = LIVER
        out[body > 0.82] = MUSCLE
        out[body > 0.93] = FAT
        out[body > 1] = AIR
        spine = np.hypot(px - self.spine_at[0], py - self.spine_at[1])
        out[spine < 24] = MUSCLE
        out[spine < 19] = BONE
        out[(spine < 17.5) & (np.mod(rel[:, 2], 30) > 5)] = MARROW
        breast = ((px - x0 + 6) / 18) ** 2 + ((py - y0 + b + 6) / 5) ** 2
        out[breast < 1] = BONE
        out[breast < 0.6] = MARROW
        vessel = np.hypot(px - self.descending_at[0], py - self.descending_at[1])
        out[vessel < 13] = WALL
        out[vessel < 11.5] = DESCENDING

    def _paint_heart(self, q, out):
        """The lumen first: what lies in it needs no look at the chambers about it."""
        root = self.root
        cx, cy = root.centre_at(q[:, 2])
        radius, azimuth = np.hypot(q[:, 0] - cx, q[:, 1] - cy), np.arctan2(q[:, 1] - cy, q[:, 0] - cx)
        near = np.nonzero((radius < 46) & (q[:, 2] > Z_LOW + 1) & (q[:, 2] < Z_HIGH - 1))[0]
        beyond = np.full(len(q), 99.0, np.float32)  # mm outside the wall, along the ray
        beyond[near] = radius[near] - look_up(root.wall_padded, azimuth[near], q[near, 2])
        lumen = (beyond < 0) & (q[:, 2] > -24)
        rest = np.nonzero(~lumen)[0]
        part = out[rest]
        self._paint_about(q[rest], azimuth[rest], beyond[rest], part)
        out[rest] = part
        inside = np.nonzero(lumen)[0]
        out[inside] = np.where(q[inside, 2] < -6, VENTRICLE, AORTA)
        valve = inside[(q[inside, 2] > -4) & (q[inside, 2] < 26)]
        if len(valve):
            sheet = root.leaflet_depth(radius[valve], azimuth[valve], q[valve, 2])
            out[valve[sheet > 0]] = LEAFLET
        zone = np.nonzero((radius < 28) & (np.abs(q[:, 2] - 6) < 24))[0]
        if len(zone):
            for k, lump in enumerate(self.deposits):
                box = zone[np.abs(q[zone] - lump.centre).max(1) < 6]
                if len(box):
                    out[box[lump.value(q[box]) < 1]] = FIRST_DEPOSIT + k

    def _paint_about(self, q, azimuth, beyond, out):
        z = q[:, 2]
        cava = self.cava.outside(q)
        out[cava < 1.2] = WALL
        out[cava < 0] = CAVA
        out[self.right_atrium_wall.value(q) < 1] = WALL
        out[self.right_atrium.value(q) < 1] = RIGHT_ATRIUM
        out[(self.atrium_wall.value(q) < 1) & (z > self.chamber_top + 2)] = WALL
        out[self.right_wall.value(q) < 1] = MYOCARDIUM
        out[self.right_heart.value(q) < 1] = RIGHT_HEART
        trunk = self.trunk.outside(q)
        out[(trunk < 1.6) & (out != RIGHT_HEART)] = WALL
        out[trunk < 0] = PULMONARY
        out[(self.muscle.value(q) < 1) & (z < self.chamber_top + 8)] = MYOCARDIUM
        out[(self.atrium.value(q) < 1) & (z > self.chamber_top + 4.5)] = ATRIUM
        # Arteries lie in fat; the wall of the aorta and the muscle of the septum close the root.
        distances = [pipe.outside(q) for pipe in self.arteries]
        for away in distances:
            out[away < 2.2] = FAT
        septal = smooth_step((1.25 - np.abs(wrap(azimuth + 0.1))) / 0.5) * smooth_step((1 - z) / 6)
        shell = beyond < self.wall_mm + (self.septum_mm - self.wall_mm) * septal
        out[shell] = np.where((z[shell] < 0) & (septal[shell] > 0.02), MYOCARDIUM, WALL)
        for away in distances:
            out[(away < 0.6) & (out != FAT)] = WALL
        chamber = (self.chamber.value(q) < 1) & (z < self.chamber_top)
        out[chamber] = VENTRICLE
        for lump in self.papillary:
            out[chamber & (lump.value(q) < 1)] = MYOCARDIUM
        for away in distances:
            out[away < 0] = ARTERY

    def shade(self, points, labels):
        """HU of each point: the tissue's level, blood of the left heart with a gradient along the root."""
        hu = self.levels[labels]
        left = (labels >= AORTA) & (labels <= ATRIUM) | (labels == ARTERY)
        z = self.local(points[left])[:, 2]
        hu[left] *= 1 + self.gradient_per_mm * np.clip(z, -60, 80).astype(np.float32)
        return hu
