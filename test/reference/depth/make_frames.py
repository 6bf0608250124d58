"""Marked fluoroscopy frames made apart from the product, for its depth measurement.

Three parts, all written from PS3.3 C.8.7.5 and plain geometry, none of it shared with the product:
  scenes   roots with a frame in them; marks by a VTK camera (its own projection matrix), truth beside them
  cameras  points in space and where a VTK camera sees them
  runs     the same kind of scene cast ray by ray in numpy (balls at what is marked, a cone of the frame, an elliptic body)
           and written as X-ray angiographic DICOM by pydicom; a reader has to find the balls in the picture

Use: python3 make_frames.py OUT SEED COUNT
Writes OUT/scenes.json, OUT/cameras.json and OUT/run-<k>-<view>.dcm with OUT/runs.json. Fixed seed, same bytes; about 6 s for 12 scenes.
"""
import json
import sys
from pathlib import Path

import numpy as np

SID, SOD, IMAGER, SIZE = 1060.0, 780.0, 0.37, 512


def unit(v):
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)


def beam(primary, secondary):
    """Isocentre to detector. +90 primary looks from the patient's left, +90 secondary from the head, 0/0 from the front."""
    a, b = np.radians(primary), np.radians(secondary)
    front, left, head = np.array([0, -1.0, 0]), np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
    return np.cos(b) * (np.cos(a) * front + np.sin(a) * left) + np.sin(b) * head


def vtk_projector(primary, secondary, iso):
    """Pixel of a point by a VTK camera at the X-ray source: the picture is seen from the detector, so its columns are mirrored."""
    from vtkmodules.vtkRenderingCore import vtkCamera
    d = beam(primary, secondary)
    cam = vtkCamera()
    cam.SetPosition(*(iso - SOD * d))
    cam.SetFocalPoint(*(iso - SOD * d + SID * d))
    cam.SetViewUp(0, 0, 1)
    half = SIZE * IMAGER / 2
    cam.SetViewAngle(2 * np.degrees(np.arctan(half / SID)))
    cam.SetClippingRange(1, 5000)
    m = cam.GetCompositeProjectionTransformMatrix(1.0, -1, 1)
    matrix = np.array([[m.GetElement(i, j) for j in range(4)] for i in range(4)])

    def project(p):
        x, y, _, w = matrix @ np.append(p, 1.0)
        # VTK looks along the beam and sees the patient's left on its left hand; the reader looks against it.
        return np.array([(SIZE - 1) / 2 - x / w * SIZE / 2, (SIZE - 1) / 2 - y / w * SIZE / 2])
    return project


def on_edge(normal, primary):
    best = min(np.linspace(-60, 60, 4801), key=lambda s: abs(beam(primary, s) @ normal))
    return float(best)


def rotation(rng, sd_deg):
    w = np.radians(rng.normal(0, sd_deg, 3))
    t = np.linalg.norm(w)
    if t < 1e-12:
        return np.eye(3)
    k = w / t
    K = np.array([[0, -k[2], k[1]], [k[2], 0, -k[0]], [-k[1], k[0], 0]])
    return np.eye(3) + np.sin(t) * K + (1 - np.cos(t)) * K @ K


def make_scene(rng, turn_sd):
    normal = unit([-0.5 + rng.uniform(-.2, .2), -0.3 + rng.uniform(-.2, .2), 0.9])
    front = unit(np.array([0, -1.0, 0]) - normal * (np.array([0, -1.0, 0]) @ normal))
    side = np.cross(normal, front)
    r = rng.uniform(10.5, 13.5)
    at = rng.uniform(-200, 200, 3)
    on = {c: at + r * (np.cos(np.radians(g)) * front + np.sin(np.radians(g)) * side) for c, g in
          zip("RLN", np.array([0, 120, 240]) + rng.uniform(-12, 12, 3) + rng.uniform(-20, 20))}
    raw = np.cross(on["L"] - on["N"], on["R"] - on["N"])
    plan_normal = unit(raw) if raw @ normal > 0 else -unit(raw)
    middle = sum(on.values()) / 3
    turn = rotation(rng, turn_sd)
    table = {c: turn @ (p - middle) for c, p in on.items()}
    n = turn @ plan_normal
    axis = unit(n + rng.normal(0, 0.07, 3))
    radius = r * rng.uniform(0.85, 1.0)
    centre = -n * rng.uniform(0, 8) + turn @ (front * rng.normal(0, 1.5) + side * rng.normal(0, 1.5))
    to_n = table["N"] - centre
    edge = centre + radius * unit(to_n - axis * (to_n @ axis))
    return dict(plan=dict(normal=plan_normal.tolist(), nadirs={c: p.tolist() for c, p in on.items()}, middle=middle.tolist()),
                table=table, normal=n, axis=axis, radius=radius, centre=centre,
                depth=float((table["N"] - edge) @ n), middle_depth=float((table["N"] - centre) @ n))


def edge_ends(scene, project):
    """Extremes of the projected inflow circle across the projected axis, by brute force."""
    u = unit(np.cross(scene["axis"], [1.0, 0.3, 0.2]))
    v = np.cross(scene["axis"], u)
    angles = np.linspace(0, 2 * np.pi, 20000, endpoint=False)
    pix = np.array([project(scene["centre"] + scene["radius"] * (np.cos(a) * u + np.sin(a) * v)) for a in angles[::40]])
    a0, a1 = project(scene["centre"]), project(scene["centre"] + 30 * scene["axis"])
    across = np.array([a1[1] - a0[1], a0[0] - a1[0]])
    reach = pix @ across
    ends = []
    for k in (int(reach.argmin()), int(reach.argmax())):
        fine = angles[(np.arange(k * 40 - 40, k * 40 + 41)) % len(angles)]
        p = np.array([project(scene["centre"] + scene["radius"] * (np.cos(a) * u + np.sin(a) * v)) for a in fine])
        ends.append(p[int((p @ across).argmin() if len(ends) == 0 else (p @ across).argmax())])
    return ends


def views(rng, scene):
    n = np.array(scene["plan"]["normal"])
    p1, p2 = rng.uniform(-35, -5), rng.uniform(20, 50)
    return [(p1, on_edge(n, p1) + rng.uniform(-6, 6)), (p2, on_edge(n, p2) + rng.uniform(-6, 6))]


def frames_of(rng, scene, pairs, sd_mm):
    out = []
    for primary, secondary in pairs:
        iso = rng.normal(0, 12, 3)  # the table was moved: the root lies elsewhere in each picture
        project = vtk_projector(primary, secondary, iso)
        sd = sd_mm / (IMAGER * SOD / SID)
        click = lambda p: (np.asarray(p) + rng.normal(0, sd, 2)).tolist()
        ends = edge_ends(scene, project)
        out.append(dict(primaryDeg=primary, secondaryDeg=secondary, sourceToImageMm=SID, sourceToPatientMm=SOD, pixelMm=IMAGER, columns=SIZE, rows=SIZE,
                        marks=dict(cuspN=click(project(scene["table"]["N"])), cuspR=click(project(scene["table"]["R"])), cuspL=click(project(scene["table"]["L"])),
                                   frameInflow=[click(ends[0]), click(ends[1])],
                                   frameAxis=[click(project(scene["centre"] + 3 * scene["axis"])), click(project(scene["centre"] + 38 * scene["axis"]))]),
                        clickSdPx=sd))
    return out


def cast(scene, primary, secondary, iso, balls):
    """Beer-Lambert along each ray; chords of balls, of an elliptic body and through the two walls of a cone."""
    d = beam(primary, secondary)
    right = unit(np.cross([0, 0, 1.0], d))
    up = np.cross(d, right)
    source = iso - SOD * d
    c = (np.arange(SIZE) - (SIZE - 1) / 2) * IMAGER
    target = (source + SID * d)[None, None] + c[None, :, None] * right - c[:, None, None] * up
    ray = target - source
    ray /= np.linalg.norm(ray, axis=2, keepdims=True)
    total = np.zeros((SIZE, SIZE))

    def chord(a, b, k):
        disc = b * b - a * k
        return np.where(disc > 0, 2 * np.sqrt(np.maximum(disc, 0)) / a, 0)
    body = np.array([1 / 160, 1 / 100])
    o, r = (source[:2] - scene["centre"][:2]) * body, ray[..., :2] * body
    total += 0.018 * chord((r ** 2).sum(2), (r * o).sum(2), (o ** 2).sum() - 1)
    for p, radius, mu in balls:
        q = source - p
        total += mu * chord(1.0, ray @ q, q @ q - radius ** 2)
    # Cone of the frame: thin walls, 0.02 / cos of the slant each.
    q = source - scene["centre"]
    h0, dh = q @ scene["axis"], ray @ scene["axis"]
    slope = 5 / 40
    rad = scene["radius"] + slope * h0
    perp, dperp = q - h0 * scene["axis"], ray - dh[..., None] * scene["axis"]
    A = (dperp ** 2).sum(2) - slope ** 2 * dh ** 2
    B = dperp @ perp - slope * rad * dh
    C = perp @ perp - rad ** 2
    disc = B * B - A * C
    for sign in (-1, 1):
        t = (-B + sign * np.sqrt(np.maximum(disc, 0))) / A
        h = h0 + t * dh
        total += np.where((disc > 0) & (h > 0) & (h < 40), 0.02 / np.maximum(0.2, np.sqrt(np.maximum(disc, 0)) / rad), 0)
    picture = 3500 * np.exp(total.min() - total)
    return np.clip(np.round(picture + np.random.default_rng(7).normal(0, 6, picture.shape)), 0, 4095).astype(np.uint16)


def write_xa(path, pixels, primary, secondary):
    from pydicom.dataset import FileDataset, FileMetaDataset
    from pydicom.uid import ExplicitVRLittleEndian
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = "1.2.840.10008.5.1.4.1.1.12.1"
    meta.MediaStorageSOPInstanceUID = "2.25.1234567890"
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    d = FileDataset(str(path), {}, file_meta=meta, preamble=b"\0" * 128)
    d.SOPClassUID, d.SOPInstanceUID = meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID
    d.Modality, d.PatientID, d.PatientName = "XA", "REFERENCE", "TRAINING^REFERENCE"
    d.DistanceSourceToDetector, d.DistanceSourceToPatient, d.ImagerPixelSpacing = SID, SOD, [IMAGER, IMAGER]
    d.PositionerPrimaryAngle, d.PositionerSecondaryAngle, d.PositionerMotion = f"{primary:.10g}", f"{secondary:.10g}", "STATIC"
    d.SamplesPerPixel, d.PhotometricInterpretation, d.Rows, d.Columns = 1, "MONOCHROME2", SIZE, SIZE
    d.NumberOfFrames, d.BitsAllocated, d.BitsStored, d.HighBit, d.PixelRepresentation = 1, 16, 12, 11, 0
    d.PixelData = pixels.tobytes()
    d.is_little_endian, d.is_implicit_VR = True, False
    d.save_as(str(path), write_like_original=False)


def main(out, seed, count):
    out.mkdir(parents=True, exist_ok=True)
    scenes, runs = [], []
    for k in range(count):
        rng = np.random.default_rng([seed, k])
        turn_sd = 0.0 if k % 3 == 0 else 3.0
        sd = 0.0 if k % 3 == 0 else 1.0
        scene = make_scene(rng, turn_sd)
        pairs = views(rng, scene)
        scenes.append(dict(plan=scene["plan"], frames=frames_of(rng, scene, pairs, sd), depthMm=scene["depth"], middleDepthMm=scene["middle_depth"], exact=sd == 0 and turn_sd == 0))
        if k >= 2:
            continue
        for v, (primary, secondary) in enumerate(pairs):
            iso = rng.normal(0, 10, 3)
            project = vtk_projector(primary, secondary, iso)
            w = unit(np.cross(scene["axis"], beam(primary, secondary)))
            # Balls of falling weight, so that a reader knows which is which: N, two ends, two on the axis.
            places = [scene["table"]["N"], scene["centre"] + scene["radius"] * w, scene["centre"] - scene["radius"] * w, scene["centre"] + 12 * scene["axis"], scene["centre"] + 36 * scene["axis"]]
            balls = list(zip(places, (1.5, 1.0, 1.0, 1.0, 1.0), (0.9, 0.9, 0.9, 0.45, 0.45)))
            name = f"run-{k}-{v}.dcm"
            write_xa(out / name, cast(scene, primary, secondary, iso, balls), primary, secondary)
            runs.append(dict(file=name, scene=k, primaryDeg=primary, secondaryDeg=secondary, ballsPx=[project(p).tolist() for p in places]))
    rng = np.random.default_rng([seed, 999])
    cameras = []
    for _ in range(20):
        primary, secondary, iso = rng.uniform(-90, 90), rng.uniform(-45, 45), rng.uniform(-100, 100, 3)
        project = vtk_projector(primary, secondary, iso)
        points = [iso + rng.uniform(-40, 40, 3) for _ in range(5)]
        cameras.append(dict(primaryDeg=primary, secondaryDeg=secondary, isocentreLps=iso.tolist(), points=[dict(lps=p.tolist(), px=project(p).tolist()) for p in points]))
    (out / "cameras.json").write_text(json.dumps(cameras))
    (out / "scenes.json").write_text(json.dumps(scenes))
    (out / "runs.json").write_text(json.dumps(runs))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
