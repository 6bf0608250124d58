"""One aortic root as formulas, by seed: wall, leaflet attachments, leaflet sheets, arteries, calcium.

Frame "root": mm, z up along the root's axis, azimuth 0 at the right coronary cusp, counter-clockwise seen from the
aorta (right 0, left about 120, non-coronary about 240 degrees). The wall is a ray length over azimuth and z, kept in a
table of half a degree and a tenth of a millimetre; the truth and the image are both read from that table.
"""
import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import map_coordinates

N_AZIMUTH, Z_LOW, Z_HIGH, Z_STEP = 720, -28.0, 100.0, 0.1
AZIMUTH = np.arange(N_AZIMUTH) * (2 * np.pi / N_AZIMUTH)
Z = np.arange(Z_LOW, Z_HIGH + Z_STEP / 2, Z_STEP)
CUSPS = ("R", "L", "N")


def smooth_step(x):
    x = np.clip(x, 0.0, 1.0)
    return x * x * x * (x * (6 * x - 15) + 10)


def smooth_max(a, b, width):
    """Polynomial smooth maximum: the fillet between two bodies, `width` mm wide."""
    reach = np.maximum(width - np.abs(a - b), 0.0)
    return np.maximum(a, b) + reach * reach / (4 * width)


def wrap(angle):
    return (angle + np.pi) % (2 * np.pi) - np.pi


def look_up(table, azimuth, z):
    """Bilinear, periodic in azimuth, clamped in z. table[azimuth, z]."""
    rows = (azimuth % (2 * np.pi)) * (N_AZIMUTH / (2 * np.pi))
    columns = (z - Z_LOW) / Z_STEP
    padded = table if table.shape[0] == N_AZIMUTH + 1 else np.vstack([table, table[:1]])
    return map_coordinates(padded, [rows, columns], order=1, mode="nearest", output=np.float32)


def draw_recipe(seed):
    """All choices of one root. The first six families run through so that every run of 24 seeds holds each of them."""
    rng = np.random.default_rng([77, seed])
    pick = lambda *options: options[int(rng.integers(len(options)))]
    between = lambda low, high: float(rng.uniform(low, high))
    recipe = {
        "seed": seed,
        "section": ("superellipse", "fourier")[seed % 2],
        "sinuses": ("ellipsoids", "torus", "onset")[seed % 3],
        "attachment": ("parabola", "sinusoid", "u-shape")[(seed // 3) % 3],
        "valve": ("dome", "slit", "star", "wide", "closed", "dome")[(seed // 2) % 6],
        "junction": ("ridge", "inflection", "waist")[(seed // 4) % 3],
        "outflow": ("straight", "tapered", "flared")[(seed // 5) % 3],
        "ring_radius_mm": between(10.0, 14.0),
        "ring_ratio": between(1.08, 1.38),
        "ring_turn_rad": between(0, np.pi),
        "superellipse_power": between(1.9, 2.5),
        "fourier": [between(-0.035, 0.035), between(0, 6.28), between(-0.015, 0.015), between(0, 6.28)],
        "junction_height_mm": between(17.0, 25.0),
        "junction_tilt_mm": between(0.0, 1.2),
        "junction_tilt_rad": between(0, 6.28),
        "junction_ratio": between(1.02, 1.17),
        "ridge_mm": between(0.5, 1.3),
        "ascending_ratio": between(1.05, 1.22),
        "sinus_ratio": [between(1.29, 1.50) for _ in CUSPS],
        "sinus_offset": between(0.36, 0.48),
        "fillet_mm": between(0.8, 2.2),
        "onset_powers": [between(0.75, 1.05), between(0.9, 1.4)],
        "nadir_turn_deg": [between(-7, 7) for _ in CUSPS],
        "nadir_lift_mm": [between(-1.2, 1.2) for _ in CUSPS],
        "commissure_turn_deg": [between(-6, 6) for _ in CUSPS],
        "commissure_below_junction_mm": [between(0.8, 3.0) for _ in CUSPS],
        "septal_bulge_mm": pick(0.0, between(1.0, 4.0)),
        "septal_bulge_z_mm": between(-13, -8),
        "outflow_change": between(0.06, 0.18),
        "outflow_bend_per_mm": between(0.0, 0.004),
        "outflow_bend_rad": between(0, 6.28),
        "aorta_curve_per_mm": pick(0.0, between(0.003, 0.011)),
        "leaflet_mm": between(0.6, 1.2),
        "leaflet_power": between(1.2, 2.0),
        "orifice_mm": between(3.0, 5.5),
        "edge_height_mm": between(10.5, 14.0),
        "coaptation_mm": between(6.5, 9.5),
        "left_artery_mm": between(3.0, 4.5),
        "right_artery_mm": between(2.2, 4.2),
        "artery_height_mm": [between(9.0, 16.0), between(9.0, 16.5)],
        "artery_turn_deg": [between(-16, 16), between(-16, 16)],
        "artery_rise_deg": [between(-35, 30), between(-30, 35)],
        "artery_swing_deg": [between(-40, 40), between(-40, 40)],
        "calcium": pick("none", "light", "heavy", "heavy") if seed % 8 else "none",
    }
    if recipe["attachment"] == "parabola" and seed % 2:
        recipe["attachment_power"] = between(1.8, 2.4)
    return recipe


class Root:
    """Tables and curves of one root; everything below is derived from the recipe alone."""

    def __init__(self, recipe):
        self.recipe = r = recipe
        self.rng = np.random.default_rng([78, r["seed"]])
        self.nadir_azimuth = np.radians([0, 120, 240]) + np.radians(r["nadir_turn_deg"])
        self.commissure_azimuth = np.radians([60, 180, 300]) + np.radians(r["commissure_turn_deg"])
        self._bend_centre_line()
        self.tube = self._make_tube()
        self.commissure_z = np.array(
            [self.junction_z_at(a) - b for a, b in zip(self.commissure_azimuth, r["commissure_below_junction_mm"])]
        )
        if r["sinuses"] == "onset":
            self.crown = [self._attach_by_formula(i) for i in range(3)]
            self.wall = self._grow_from_attachment()
        else:
            self._place_lobes()
            self.wall = self.tube.copy()
            for lobe in self.lobes:
                self.wall = smooth_max(self.wall, lobe, r["fillet_mm"])
            self.crown = [self._attach_to_lobe(i) for i in range(3)]
        if r["junction"] == "ridge":
            zs = self.junction_z_at(AZIMUTH)[:, None]
            self.wall = self.wall - r["ridge_mm"] * np.exp(-0.5 * ((Z[None, :] - zs) / 1.6) ** 2)
        self.wall_padded = np.vstack([self.wall, self.wall[:1]]).astype(np.float32)
        self._hang_leaflets()
        self._lead_arteries()
        self._scatter_calcium()

    # ---- wall -------------------------------------------------------------------------------------------------
    def _bend_centre_line(self):
        """x and y of the sections' centre over z; the aorta leans toward `lean` (root frame, set by the scene)."""
        r = self.recipe
        low = np.minimum(Z + 2, 0.0)
        self.centre = np.stack(
            [0.5 * r["outflow_bend_per_mm"] * low**2 * np.cos(r["outflow_bend_rad"]),
             0.5 * r["outflow_bend_per_mm"] * low**2 * np.sin(r["outflow_bend_rad"])]
        )

    def lean_aorta(self, direction):
        """Quadratic lean above the junction, straight on after 45 mm."""
        above = np.maximum(Z - self.recipe["junction_height_mm"] - 3, 0.0)
        near = np.minimum(above, 45.0)
        self.lean = self.recipe["aorta_curve_per_mm"] * (0.5 * near**2 + 45.0 * (above - near))
        self.centre = self.centre + self.lean * np.asarray(direction)[:, None]

    def centre_at(self, z):
        return np.interp(z, Z, self.centre[0]), np.interp(z, Z, self.centre[1])

    def junction_z_at(self, azimuth):
        r = self.recipe
        return r["junction_height_mm"] + r["junction_tilt_mm"] * np.cos(azimuth - r["junction_tilt_rad"])

    def _ring_section(self, elongation=1.0):
        r = self.recipe
        ratio = 1 + (r["ring_ratio"] - 1) * elongation
        a, b = r["ring_radius_mm"] * np.sqrt(ratio), r["ring_radius_mm"] / np.sqrt(ratio)
        turned = AZIMUTH - r["ring_turn_rad"]
        if r["section"] == "superellipse":
            p = r["superellipse_power"]
            return (np.abs(np.cos(turned) / a) ** p + np.abs(np.sin(turned) / b) ** p) ** (-1 / p)
        e2 = (ratio - 1) / (ratio + 1)
        c3, p3, c4, p4 = r["fourier"]
        return r["ring_radius_mm"] * (1 + e2 * np.cos(2 * turned) + c3 * np.cos(3 * (AZIMUTH - p3)) + c4 * np.cos(4 * (AZIMUTH - p4)))

    def _make_tube(self):
        r = self.recipe
        ring, deep = self._ring_section(), self._ring_section(1.6)
        depth = smooth_step(-Z / 16)[None, :]
        tube = ring[:, None] * (1 - depth) + deep[:, None] * depth
        change = {"straight": 0.0, "tapered": -r["outflow_change"], "flared": r["outflow_change"]}[r["outflow"]]
        tube = tube * (1 + change * np.maximum(-Z, 0)[None, :] ** 1.3 / 10**1.3)
        bulge = np.exp(-0.5 * (wrap(AZIMUTH + 0.15) / 0.55) ** 2)[:, None]
        tube = tube - r["septal_bulge_mm"] * bulge * np.exp(-0.5 * ((Z - r["septal_bulge_z_mm"]) / 4.0) ** 2)[None, :]
        zs = self.junction_z_at(AZIMUTH)[:, None]
        junction = r["ring_radius_mm"] * r["junction_ratio"]
        share = smooth_step(Z[None, :] / zs)
        tube = tube * (1 - share) + junction * share
        widening = {"ridge": 0.5, "inflection": 0.0, "waist": 1.0}[r["junction"]]
        wide = junction * (1 + (r["ascending_ratio"] - 1) * widening * 1.3)
        return tube + (wide - junction) * smooth_step((Z[None, :] - zs) / 22)

    def _lobe_ray(self, i, z_middle, half_height):
        """Ray length to lobe i: an ellipsoid off the axis, or a bent sausage (part of a torus)."""
        r = self.recipe
        offset = r["sinus_offset"] * r["ring_radius_mm"]
        deep = r["ring_radius_mm"] * r["sinus_ratio"][i] - offset
        turn = wrap(AZIMUTH - self.nadir_azimuth[i])[:, None]
        if r["sinuses"] == "ellipsoids":
            across = deep * (0.9 + 0.1 * np.cos(r["ring_turn_rad"] + i))
            room = 1 - ((Z[None, :] - z_middle) / half_height) ** 2
        else:
            across = deep
            lift = 9.0 * (1 - np.cos(np.clip(turn, -0.9, 0.9)))
            room = 1 - ((Z[None, :] - z_middle - lift) / half_height) ** 2
            turn = np.sign(turn) * np.maximum(np.abs(turn) - 0.35, 0.0)
        # |(t cos - offset)/deep|^2 + |t sin/across|^2 = room, the larger t
        c, s = np.cos(turn) / deep, np.sin(turn) / across
        m = offset / deep
        square = c * c + s * s
        inner = (c * m) ** 2 - square * (m * m - room)
        ray = np.where((inner > 0) & (room > 0), (c * m + np.sqrt(np.maximum(inner, 0))) / square, 0.0)
        return ray * self.follow[:, None]  # sinuses follow the ring's own shape, so a nadir stays near the middle of its cusp

    def _place_lobes(self):
        """Each lobe is moved up or down until it leaves the tube at the wanted height of its nadir."""
        r = self.recipe
        self.follow = (self._ring_section() / r["ring_radius_mm"]) ** 0.8
        self.lobes = []
        for i in range(3):
            offset = r["sinus_offset"] * r["ring_radius_mm"]
            deep = r["ring_radius_mm"] * r["sinus_ratio"][i] - offset
            row = int(round(self.nadir_azimuth[i] / (2 * np.pi) * N_AZIMUTH)) % N_AZIMUTH
            edge = (self.tube[row, int((0 - Z_LOW) / Z_STEP)] - offset) / deep
            half = 0.5 * (self.junction_z_at(self.nadir_azimuth[i]) - r["nadir_lift_mm"][i]) / np.sqrt(1 - min(edge, 0.9) ** 2)
            middle = r["nadir_lift_mm"][i] + 0.5 * self.junction_z_at(self.nadir_azimuth[i])
            for _ in range(6):
                lobe = self._lobe_ray(i, middle, half)
                middle += r["nadir_lift_mm"][i] - self._leave_tube(lobe, row)
            self.lobes.append(self._lobe_ray(i, middle, half))

    def _leave_tube(self, lobe, row):
        """Lowest z at which the lobe stands outside the tube, by linear interpolation; nan if it never does."""
        beyond = lobe[row] - self.tube[row]
        out = np.nonzero(beyond > 0)[0]
        if len(out) == 0 or out[0] == 0:
            return np.nan
        k = out[0]
        before = beyond[k - 1]
        return Z[k - 1] + Z_STEP * (-before) / (beyond[k] - before) if before > -5 else Z[k]

    def _grow_from_attachment(self):
        r = self.recipe
        wall = self.tube.copy()
        p, q = r["onset_powers"]
        top = (p / (p + q)) ** p * (q / (p + q)) ** q
        zs = self.junction_z_at(AZIMUTH)
        for i in range(3):
            x = self._share(i, AZIMUTH)
            inside = np.abs(x) < 1
            h = np.where(inside, self.crown[i](np.clip(x, -1, 1)), 0.0)
            u = np.clip((Z[None, :] - h[:, None]) / np.maximum(zs - h, 1)[:, None], 0, 1)
            depth = r["ring_radius_mm"] * (r["sinus_ratio"][i] - 1) * np.clip(1 - np.abs(x) ** 2.5, 0, 1)
            grown = depth[:, None] * u**p * (1 - u) ** q / top
            wall = np.where(inside[:, None], wall + grown, wall)
        return wall

    # ---- leaflets ---------------------------------------------------------------------------------------------
    def _share(self, i, azimuth):
        """-1 at the commissure before nadir i, 0 at the nadir, 1 at the commissure behind it; beyond outside."""
        turn = wrap(azimuth - self.nadir_azimuth[i])
        behind = wrap(self.commissure_azimuth[i] - self.nadir_azimuth[i])
        before = -wrap(self.commissure_azimuth[i - 1] - self.nadir_azimuth[i])
        return np.where(turn >= 0, turn / behind, turn / before)

    def _attach_by_formula(self, i):
        """Height over share: parabola, sinusoid, or a U that is flat below and steep at the commissures."""
        r = self.recipe
        low, before, behind = r["nadir_lift_mm"][i], self.commissure_z[i - 1], self.commissure_z[i]

        def height(x):
            a = np.abs(np.clip(x, -1, 1))
            if r["attachment"] == "parabola":
                rise = a ** r.get("attachment_power", 2.0)
            elif r["attachment"] == "sinusoid":
                rise = 0.5 - 0.5 * np.cos(np.pi * a)
            else:
                rise = 1 - np.sqrt(np.maximum(1 - a**2.2, 0))
            return low + rise * (np.where(x >= 0, behind, before) - low)

        return height

    def _attach_to_lobe(self, i):
        """Where the lobe leaves the tube in the middle 70 percent of the cusp, then on to the commissures."""
        shares, heights = [-1.0], [self.commissure_z[i - 1]]
        for x in np.linspace(-0.7, 0.7, 57):
            behind = wrap(self.commissure_azimuth[i] - self.nadir_azimuth[i])
            before = -wrap(self.commissure_azimuth[i - 1] - self.nadir_azimuth[i])
            azimuth = self.nadir_azimuth[i] + x * (behind if x >= 0 else before)
            exact = (azimuth % (2 * np.pi)) / (2 * np.pi) * N_AZIMUTH
            row, rest = int(exact), exact - int(exact)
            pair = [self._leave_tube(self.lobes[i], k % N_AZIMUTH) for k in (row, row + 1)]
            z = pair[0] * (1 - rest) + pair[1] * rest
            if np.isfinite(z) and z < min(self.commissure_z) - 3:
                shares.append(x)
                heights.append(z)
        shares.append(1.0)
        heights.append(self.commissure_z[i])
        return PchipInterpolator(shares, heights)

    def crown_z(self, azimuth):
        """Height of the attachment at each azimuth (the cusp whose sector holds it)."""
        z = np.full(np.shape(azimuth), np.nan)
        for i in range(3):
            x = self._share(i, azimuth)
            z = np.where(np.abs(x) <= 1, self.crown[i](np.clip(x, -1, 1)), z)
        return z

    def _hang_leaflets(self):
        """Sheet from the attachment to the free edge: ray length over (azimuth, z), or z over (azimuth, share of the way in)."""
        r = self.recipe
        h = self.crown_z(AZIMUTH)
        bad = np.isnan(h)
        h[bad] = np.interp(AZIMUTH[bad], AZIMUTH[~bad], h[~bad], period=2 * np.pi)
        self.attachment_z = h
        self.hinge_radius = look_up(self.wall_padded, AZIMUTH, h)
        x = np.full(N_AZIMUTH, 1.0)
        for i in range(3):
            share = np.abs(self._share(i, AZIMUTH))
            x = np.where(share <= 1, share, x)
        if r["valve"] == "closed":
            self.sheet = None
            return
        tip = smooth_max(np.full(N_AZIMUTH, r["edge_height_mm"]), h + 2.5, 2.0)
        mean = r["ring_radius_mm"]
        orifice = {
            "dome": np.full(N_AZIMUTH, r["orifice_mm"]),
            "slit": 1 / np.sqrt((np.cos(AZIMUTH - r["ring_turn_rad"]) / (0.72 * mean)) ** 2 + (np.sin(AZIMUTH - r["ring_turn_rad"]) / 2.2) ** 2),
            "star": r["orifice_mm"] + (0.85 * mean - r["orifice_mm"]) * x**2.5,
            "wide": np.full(N_AZIMUTH, 0.78 * mean),
        }[r["valve"]]
        t = np.clip((Z[None, :] - h[:, None]) / (tip - h)[:, None], 0, 1)
        sheet = orifice[:, None] + (self.hinge_radius - orifice)[:, None] * (1 - t) ** r["leaflet_power"]
        sheet = np.minimum(sheet, self.wall - 0.02)
        along_z = np.gradient(sheet, Z_STEP, axis=1)
        step = 2 * np.pi / N_AZIMUTH
        along_a = (np.roll(sheet, -1, 0) - np.roll(sheet, 1, 0)) / (2 * step) / np.maximum(sheet, 1.0)
        self.tip_z = tip
        self.sheet = np.vstack([sheet, sheet[:1]]).astype(np.float32)
        slope = 1 / np.sqrt(1 + along_z**2 + along_a**2)
        self.sheet_slope = np.vstack([slope, slope[:1]]).astype(np.float32)

    def at_azimuth(self, values, azimuth):
        return np.interp(azimuth % (2 * np.pi), np.append(AZIMUTH, 2 * np.pi), np.append(values, values[:1]))

    def leaflet_depth(self, radius, azimuth, z):
        """mm inside the leaflet sheets (positive inside, clipped far away)."""
        r = self.recipe
        half = 0.5 * r["leaflet_mm"]
        if self.sheet is not None:
            away = np.abs(radius - look_up(self.sheet, azimuth, z)) * look_up(self.sheet_slope, azimuth, z)
            h, tip = self.at_azimuth(self.attachment_z, azimuth), self.at_azimuth(self.tip_z, azimuth)
            return np.where((z >= h - half) & (z <= tip), half - away, -9.0)
        h, hinge = self.at_azimuth(self.attachment_z, azimuth), self.at_azimuth(self.hinge_radius, azimuth)
        inward = np.clip(1 - radius / hinge, 0, 1)
        power = r["leaflet_power"]
        floor = h + (r["coaptation_mm"] - h) * inward**power
        lean = (r["coaptation_mm"] - h) * power * inward ** (power - 1) / hinge
        turn = self.at_azimuth(np.gradient(self.attachment_z, AZIMUTH), azimuth) * (1 - inward**power) / np.maximum(radius, 1.0)
        bowl = half - np.abs(z - floor) / np.sqrt(1 + lean**2 + turn**2)
        bowl = np.where(radius <= hinge, bowl, -9.0)
        blade = np.full(np.shape(radius), -9.0)
        for a, top in zip(self.commissure_azimuth, self.commissure_z):
            turn = wrap(azimuth - a)
            beside = np.abs(radius * np.sin(turn))
            upright = (np.abs(turn) < 1.2) & (radius < hinge) & (z > floor) & (z < np.minimum(floor + 4.0, top + 0.5))
            blade = np.maximum(blade, np.where(upright, 1.4 * half - beside, -9.0))
        return np.maximum(bowl, blade)

    # ---- arteries and calcium -------------------------------------------------------------------------------------
    def wall_point(self, azimuth, z):
        radius = float(look_up(self.wall_padded, np.array([azimuth]), np.array([z]))[0])
        cx, cy = self.centre_at(z)
        return np.array([cx + radius * np.cos(azimuth), cy + radius * np.sin(azimuth), z])

    def _lead_arteries(self):
        """Quadratic curve through the wall, then along the heart; radius falls off beyond 10 mm."""
        r = self.recipe
        self.arteries = {}
        for name, k, cusp, width in (("left", 0, 1, r["left_artery_mm"]), ("right", 1, 0, r["right_artery_mm"])):
            azimuth = self.nadir_azimuth[cusp] + np.radians(r["artery_turn_deg"][k])
            z = min(r["artery_height_mm"][k], self.junction_z_at(azimuth) - 2.5)
            mouth = self.wall_point(azimuth, z)
            swing, rise = azimuth + np.radians(r["artery_swing_deg"][k]), np.radians(r["artery_rise_deg"][k])
            leave = np.array([np.cos(swing) * np.cos(rise), np.sin(swing) * np.cos(rise), np.sin(rise)])
            sideways = azimuth + (0.9 if name == "left" else -0.9)
            bend = np.array([np.cos(sideways), np.sin(sideways), -0.5])
            t = np.arange(-3.0, 38.0, 0.15)
            far = np.maximum(t - 5, 0.0)
            path = mouth + t[:, None] * leave + (0.012 * far**2)[:, None] * bend
            radius = 0.5 * width * np.clip(1 - 0.018 * np.maximum(t - 10, 0), 0.45, 1)
            self.arteries[name] = {"mouth": mouth, "path": path, "radius": radius, "azimuth": azimuth, "z": z}

    def _scatter_calcium(self):
        """Ellipsoids: {centre, axes (columns), half (mm), hu, kind}."""
        r, rng = self.recipe, self.rng
        self.calcium = []
        count = {"none": (0, 0, 0), "light": (3, 1, 0), "heavy": (8, 2, 2)}[r["calcium"]]
        for _ in range(count[0]):
            azimuth = float(rng.uniform(0, 2 * np.pi))
            share = float(rng.uniform(0.15, 0.8))
            h = float(self.at_azimuth(self.attachment_z, azimuth))
            hinge = float(self.at_azimuth(self.hinge_radius, azimuth))
            if self.sheet is None:
                z = h + (r["coaptation_mm"] - h) * share ** r["leaflet_power"]
                radius = hinge * (1 - share)
            else:
                z = h + share * (float(self.at_azimuth(self.tip_z, azimuth)) - h)
                radius = float(look_up(self.sheet, np.array([azimuth]), np.array([z]))[0])
            plate = rng.random() < 0.4
            half = rng.uniform(1.6, 3.6, 3) if plate else rng.uniform(1.0, 2.6, 3)
            if plate:
                half[0] = rng.uniform(0.7, 1.1)
            self._add_deposit(azimuth, radius, z, half, "leaflet", lean=0.5)
            if rng.random() < 0.4:  # a second lump of the same cluster
                near = half * rng.uniform(0.5, 0.8)
                self._add_deposit(azimuth + 0.18, radius - 0.5, z + 1.0, near, "leaflet", lean=0.2)
        for kind, n, low, high in (("ring", count[1], -1.0, 1.5), ("outflow", count[2], -8.0, -3.0)):
            for _ in range(n):
                azimuth, z = float(rng.uniform(0, 2 * np.pi)), float(rng.uniform(low, high))
                radius = float(look_up(self.wall_padded, np.array([azimuth]), np.array([z]))[0])
                half = np.array([rng.uniform(1.0, 2.0), rng.uniform(1.5, 3.5), rng.uniform(1.2, 3.0)])
                self._add_deposit(azimuth, radius + rng.uniform(-0.8, 0.5), z, half, kind)

    def _add_deposit(self, azimuth, radius, z, half, kind, lean=0.0):
        outward = np.array([np.cos(azimuth), np.sin(azimuth), 0])
        along = np.array([-np.sin(azimuth), np.cos(azimuth), 0])
        up = np.array([0, 0, 1.0])
        outward, up = np.cos(lean) * outward + np.sin(lean) * up, -np.sin(lean) * outward + np.cos(lean) * up
        cx, cy = self.centre_at(z)
        centre = np.array([cx + radius * np.cos(azimuth), cy + radius * np.sin(azimuth), z])
        hu = float(self.rng.uniform(750, 1400))
        self.calcium.append({"centre": centre, "axes": np.stack([outward, along, up], 1), "half": half, "hu": hu, "kind": kind})
