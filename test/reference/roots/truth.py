"""Exact measures of one root, read off its formulas: plane, ring, junction, ostia, calcium. Lengths in mm."""
import numpy as np
from scipy.ndimage import label as label_pieces

from shape import AZIMUTH, CUSPS, Z, Z_STEP, look_up


def find_nadirs(root):
    """Lowest attachment of each leaflet along the basal plane's own normal (fixed point), in the root frame."""
    normal = np.array([0, 0, 1.0])
    for _ in range(4):
        nadirs = []
        for i in range(3):
            x = np.linspace(-0.9, 0.9, 3601)
            behind = (root.commissure_azimuth[i] - root.nadir_azimuth[i] + np.pi) % (2 * np.pi) - np.pi
            before = (root.nadir_azimuth[i] - root.commissure_azimuth[i - 1] + np.pi) % (2 * np.pi) - np.pi
            azimuth = root.nadir_azimuth[i] + x * np.where(x >= 0, behind, before)
            z = root.crown[i](x)
            radius = look_up(root.wall_padded, azimuth, z)
            cx, cy = root.centre_at(z)
            curve = np.stack([cx + radius * np.cos(azimuth), cy + radius * np.sin(azimuth), z], 1)
            nadirs.append(curve[np.argmin(curve @ normal)])
        nadirs = np.array(nadirs)
        normal = np.cross(nadirs[1] - nadirs[0], nadirs[2] - nadirs[0])
        normal /= np.linalg.norm(normal)
        normal *= np.sign(normal[2])
    return nadirs, normal


def cut_wall(root, point, normal, every=1):
    """The wall's section with a plane: one point for each azimuth (half a degree times `every`), by linear interpolation."""
    azimuth, wall = AZIMUTH[::every, None], root.wall[::every]
    x, y = root.centre[0] + wall * np.cos(azimuth), root.centre[1] + wall * np.sin(azimuth)
    height = (x - point[0]) * normal[0] + (y - point[1]) * normal[1] + (Z - point[2]) * normal[2]
    rows = np.arange(len(height))
    at = np.argmax((height[:, :-1] < 0) & (height[:, 1:] >= 0), axis=1)
    low, high = height[rows, at], height[rows, at + 1]
    t = low / (low - high)
    between = lambda grid: grid[rows, at] + t * (grid[rows, at + 1] - grid[rows, at])
    return np.stack([between(x), between(y), Z[at] + t * Z_STEP], 1)


def measure_section(contour, normal):
    """Area, perimeter, smallest and largest caliper width of a flat closed contour."""
    u = np.cross(normal, [0.3, 0.9, 0.1])
    u /= np.linalg.norm(u)
    v = np.cross(normal, u)
    flat = np.stack([contour @ u, contour @ v], 1)
    after = np.roll(flat, -1, 0)
    area = 0.5 * abs(np.sum(flat[:, 0] * after[:, 1] - flat[:, 1] * after[:, 0]))
    angle = np.radians(np.arange(0, 180, 0.5))
    spread = flat @ np.stack([np.cos(angle), np.sin(angle)])
    width = spread.max(0) - spread.min(0)
    return {"areaMm2": area, "perimeterMm": float(np.linalg.norm(after - flat, axis=1).sum()), "minDiameterMm": float(width.min()), "maxDiameterMm": float(width.max())}


def find_junction(root, point, normal):
    """Height and area diameter where the sinuses end: the narrowest flat section above them; where none is narrowest
    (the wall goes straight on), the sharpest bend of diameter over height."""
    heights = np.arange(6.0, root.recipe["junction_height_mm"] + 14, 0.2)
    areas = np.array([measure_section(cut_wall(root, point + h * normal, normal, 4), normal)["areaMm2"] for h in heights])
    diameter = 2 * np.sqrt(areas / np.pi)
    widest = int(np.argmax(diameter[heights < root.recipe["junction_height_mm"]]))
    after = diameter[widest:]
    low = int(np.argmin(after))
    smooth = np.convolve(np.pad(diameter, 4, mode="edge"), np.ones(9) / 9, "valid")
    bend = np.gradient(np.gradient(smooth, 0.2), 0.2)
    bend[: widest + 1], bend[-6:] = -1, -1
    bent = int(np.argmax(bend))
    waist = 0 < low < len(after) - 1 and diameter[-1] - after[low] > 0.15
    at = widest + low if waist else bent
    return {"heightMm": float(heights[at]), "diameterMm": float(diameter[at]), "isWaist": bool(waist), "sharpestBendMm": float(heights[bent]), "widestMm": float(heights[widest]), "widestAreaMm2": float(areas[widest])}


def measure_calcium(root, point, normal, junction_height, step=0.15):
    """Union of the deposits on a fine grid; pieces that touch are one deposit."""
    if not root.calcium:
        return {"volumeMm3": 0.0, "outflowMm3": 0.0, "deposits": []}
    centres = np.array([d["centre"] for d in root.calcium])
    reach = max(float(np.max(d["half"])) for d in root.calcium) + 0.5
    low, high = centres.min(0) - reach, centres.max(0) + reach
    size = np.ceil((high - low) / step).astype(int)
    filled = np.zeros(size, bool)
    for d in root.calcium:
        a = np.floor((d["centre"] - reach - low) / step).astype(int).clip(0)
        b = np.minimum(np.ceil((d["centre"] + reach - low) / step).astype(int), size)
        grid = np.stack(np.meshgrid(*[low[k] + (np.arange(a[k], b[k]) + 0.5) * step for k in range(3)], indexing="ij"), -1)
        q = (grid - d["centre"]) @ d["axes"] / d["half"]
        filled[a[0]:b[0], a[1]:b[1], a[2]:b[2]] |= (q * q).sum(-1) < 1
    pieces, count = label_pieces(filled, np.ones((3, 3, 3)))
    deposits, total, outflow = [], 0.0, 0.0
    for k in range(1, count + 1):
        voxels = low + (np.argwhere(pieces == k) + 0.5) * step
        height = (voxels - point) @ normal
        zone = (height > -10) & (height < junction_height)
        total += zone.sum() * step**3
        outflow += ((height < 0) & (height > -10)).sum() * step**3
        deposits.append({"centre": voxels.mean(0), "volumeMm3": float(len(voxels) * step**3), "heightMm": float(height.mean())})
    return {"volumeMm3": float(total), "outflowMm3": float(outflow), "deposits": deposits}


def measure_truth(scene):
    root = scene.root
    nadirs, normal = find_nadirs(root)
    point = nadirs.mean(0)
    lps = lambda p: [round(float(v), 4) for v in scene.lps(p)]
    contour = cut_wall(root, nadirs[0], normal)
    junction = find_junction(root, nadirs[0], normal)
    calcium = measure_calcium(root, nadirs[0], normal, junction["heightMm"])
    for deposit in calcium["deposits"]:
        deposit["centreLps"] = lps(deposit.pop("centre"))
    direction = scene.axes @ normal
    levels = {}
    for h in (-10, -5, -3, 1, 2, 3, 4, 5, 7, 10, 13):
        levels[str(h)] = measure_section(cut_wall(root, nadirs[0] + h * normal, normal), normal)["areaMm2"]
    return {
        "recipe": root.recipe,
        "nadirsLps": {c: lps(p) for c, p in zip(CUSPS, nadirs)},
        "normalLps": [float(v) for v in direction],
        "angulationDeg": float(np.degrees(np.arccos(direction[2]))),
        "basalRing": measure_section(contour, normal),
        "contourLps": [lps(p) for p in contour[::8]],
        "levelAreasMm2": levels,
        "junction": junction,
        "coronaries": {n: {"ostiumLps": lps(a["mouth"]), "heightMm": float((a["mouth"] - nadirs[0]) @ normal), "diameterMm": float(2 * a["radius"][20])} for n, a in root.arteries.items()},
        "calcium": calcium,
        "commissuresLps": [lps(root.wall_point(a, z)) for a, z in zip(root.commissure_azimuth, root.commissure_z)],
        "levelsHu": {"blood": float(scene.blood_hu), "leaflet": float(scene.levels[9]), "wall": float(scene.levels[8])},
    }
