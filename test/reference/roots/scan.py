"""From a scene to a CT: voxels by supersampling, blur, noise, and DICOM files as one scanner or another writes them."""
import hashlib
from pathlib import Path

import numpy as np
import pydicom
from pydicom.dataset import FileDataset, FileMetaDataset
from pydicom.uid import ExplicitVRLittleEndian, ImplicitVRLittleEndian
from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter


def draw_protocol(seed, cube_mm=None):
    """Matrix, voxels, blur, noise and the habits of the writer. With cube_mm: a cut of that edge about the root."""
    rng = np.random.default_rng([80, seed])
    u = lambda low, high: float(rng.uniform(low, high))
    matrix = int(rng.choice([256, 288, 320, 384, 512]))
    field = {256: u(125, 200), 288: u(130, 205), 320: u(140, 220), 384: u(150, 230), 512: u(165, 250)}[matrix]
    pixel = max(field / matrix, 0.35)
    slice_mm = float(rng.choice([0.4, 0.5, 0.5, 0.6, 0.625, 0.75, 0.8, 1.0]))
    protocol = {
        "matrix": matrix,
        "pixel_mm": pixel,
        "slice_mm": slice_mm,
        "below_mm": u(44, 56),
        "above_mm": u(55, 70),
        "sigma_mm": u(0.42, 0.68),
        "sigma_z_mm": max(u(0.4, 0.65), 0.42 * slice_mm),
        "sharpening": float(rng.choice([0.0, 0.0, 0.15, 0.3])),
        "noise_hu": u(10, 35),
        "noise": str(rng.choice(["white", "smooth", "band"])),
        "tilt_deg": float(rng.choice([0.0, 0.0, 0.0, 0.0, 0.0, 7.0])),
        "intercept": int(rng.choice([-1024, -1024, 0, -8192])),
        "padding": bool(rng.random() < 0.4),
        "order": str(rng.choice(["upward", "downward", "random"])),
        "implicit": bool(rng.random() < 0.5),
        "off_centre_mm": [u(-15, 15), u(-15, 15)],
    }
    if cube_mm:
        protocol.update(matrix=int(cube_mm / pixel), below_mm=0.42 * cube_mm, above_mm=0.58 * cube_mm, padding=False, off_centre_mm=[0.0, 0.0])
    return protocol


def make_grid(scene, protocol):
    """Position of voxel (0, 0, 0) and the steps along column index, row index and slice index, LPS."""
    n, pixel = protocol["matrix"], protocol["pixel_mm"]
    tilt = np.radians(protocol["tilt_deg"])
    steps = np.array([[pixel, 0, 0], [0, pixel * np.cos(tilt), -pixel * np.sin(tilt)], [0, 0, protocol["slice_mm"]]])
    slices = int(round((protocol["below_mm"] + protocol["above_mm"]) / protocol["slice_mm"]))
    # Middle of the volume: a little up the aorta from the root's origin.
    centre = scene.lps([0, 0, 8.0]) + np.array([*protocol["off_centre_mm"], 0.0])
    start = centre - steps[0] * (n - 1) / 2 - steps[1] * (n - 1) / 2
    start[2] -= protocol["below_mm"]
    return np.round(start, 3), steps, (slices, n, n)


def sample_scene(scene, start, steps, shape):
    """HU per voxel, mean over the voxel: one sample where all is even, 27 near edges of the root, 8 farther out, 1 far away."""
    nz, ny, nx = shape
    start32, steps32 = start.astype(np.float32), steps.astype(np.float32)
    across = (np.arange(ny, dtype=np.float32)[:, None, None] * steps32[1] + np.arange(nx, dtype=np.float32)[None, :, None] * steps32[0]).reshape(-1, 3)
    hu = np.empty(shape, np.float32)
    place = scene.place.astype(np.float32)

    def shade(points):
        return scene.shade(points, scene.label(points))

    # Every second voxel first; where those agree all around, the voxels between them agree too. Thin things (leaflets,
    # arteries) lie within 45 mm of the root and are looked at voxel by voxel.
    few = [np.arange(0, n + 1, 2).clip(0, n - 1) for n in shape]
    corners = (few[1][:, None, None] * steps32[1] + few[2][None, :, None] * steps32[0]).reshape(-1, 3).astype(np.float32)
    coarse = np.stack([shade(start32 + k * steps32[2] + corners).reshape(len(few[1]), len(few[2])) for k in few[0]])
    even = maximum_filter(coarse, 3) - minimum_filter(coarse, 3) < 12
    middle = place + (scene.axes @ [0, 0, 9]).astype(np.float32)
    for k in range(nz):
        hu[k] = coarse[k // 2].repeat(2, 0).repeat(2, 1)[:ny, :nx]
        points = start32 + k * steps32[2] + across
        look = ~even[k // 2].repeat(2, 0).repeat(2, 1)[:ny, :nx].ravel() | (((points - middle) ** 2).sum(1) < 45.0**2)
        hu[k].reshape(-1)[look] = shade(points[look])
    spread = maximum_filter(hu, 3) - minimum_filter(hu, 3)
    edges = spread > 25
    for k in range(nz):
        at = np.nonzero(edges[k].ravel())[0]
        if not len(at):
            continue
        points = start32 + k * steps32[2] + across[at]
        away = np.linalg.norm(points - middle, axis=1)
        row = hu[k].reshape(-1)
        for subset, parts in ((away < 27, 3), ((away >= 27) & (away < 45), 2)):
            chosen = at[subset]
            if not len(chosen):
                continue
            offsets = (np.arange(parts) + 0.5) / parts - 0.5
            inner = np.stack(np.meshgrid(offsets, offsets, offsets), -1).reshape(-1, 3) @ steps
            fine = (points[subset][:, None] + inner.astype(np.float32)).reshape(-1, 3)
            row[chosen] = shade(fine).reshape(len(chosen), -1).mean(1)
    return hu


def blur(hu, protocol):
    px, sz = protocol["pixel_mm"], protocol["slice_mm"]
    sigma = np.array([protocol["sigma_z_mm"] / sz, protocol["sigma_mm"] / px, protocol["sigma_mm"] / px])
    soft = gaussian_filter(hu, sigma)
    if protocol["sharpening"]:
        wide = gaussian_filter(hu, sigma * np.array([1.0, 1.9, 1.9]))
        soft += protocol["sharpening"] * (soft - wide)
    return soft


def add_noise(hu, protocol, seed):
    rng = np.random.default_rng([81, seed])
    noise = rng.standard_normal(hu.shape, dtype=np.float32)
    if protocol["noise"] != "white":
        sigma = np.array([0.45 / protocol["slice_mm"], 0.5 / protocol["pixel_mm"], 0.5 / protocol["pixel_mm"]])
        soft = gaussian_filter(noise, sigma)
        noise = soft if protocol["noise"] == "smooth" else soft - 0.9 * gaussian_filter(noise, sigma * 2)
        noise /= noise.std()
    return hu + protocol["noise_hu"] * noise


def make_uid(*parts):
    return "2.25." + str(int(hashlib.sha256("/".join(map(str, parts)).encode()).hexdigest()[:30], 16))


def write_dicom(folder, hu, start, steps, protocol, seed):
    """One file per slice; file names tell nothing, the instance number follows the writer's order."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng([82, seed])
    nz, ny, nx = hu.shape
    intercept = protocol["intercept"]
    signed = intercept == 0
    stored = np.round(hu - intercept)
    stored = np.clip(stored, -1024, 3071) if signed else np.clip(stored, 0, 4095 if intercept == -1024 else 65535)
    stored = stored.astype(np.int16 if signed else np.uint16)
    if protocol["padding"]:
        y, x = np.mgrid[0:ny, 0:nx]
        beyond = np.hypot(x - (nx - 1) / 2, y - (ny - 1) / 2) > nx / 2
        stored = np.where(beyond[None], -2000 if signed else 0, stored).astype(stored.dtype)
    number = {"upward": np.arange(nz), "downward": np.arange(nz)[::-1], "random": rng.permutation(nz)}[protocol["order"]]
    names = rng.permutation(100000)[:nz]
    table = round(float(rng.uniform(-500, 900)), 1)
    syntax = ImplicitVRLittleEndian if protocol["implicit"] else ExplicitVRLittleEndian
    for k in range(nz):
        meta = FileMetaDataset()
        meta.MediaStorageSOPClassUID = "1.2.840.10008.5.1.4.1.1.2"
        meta.MediaStorageSOPInstanceUID = make_uid(seed, "image", k)
        meta.TransferSyntaxUID = syntax
        meta.ImplementationClassUID = make_uid("writer")
        d = FileDataset(None, {}, file_meta=meta, preamble=b"\0" * 128)
        d.ImageType = ["ORIGINAL", "PRIMARY", "AXIAL"]
        d.SOPClassUID, d.SOPInstanceUID = meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID
        d.StudyDate, d.ContentDate, d.StudyTime, d.ContentTime = "20200102", "20200102", "101500", "101712"
        d.AccessionNumber, d.Modality, d.ReferringPhysicianName, d.Manufacturer = "", "CT", "", ""
        d.SeriesDescription = "chest arterial thin"
        d.PatientName, d.PatientID, d.PatientBirthDate, d.PatientSex = f"SHAPE^{seed}", f"S{seed}", "", "O"
        d.ContrastBolusAgent, d.KVP, d.SliceThickness, d.PatientPosition = "iodine", 100, protocol["slice_mm"], "FFS" if seed % 7 == 3 else "HFS"
        d.GantryDetectorTilt, d.TableHeight = protocol["tilt_deg"], table
        d.StudyInstanceUID, d.SeriesInstanceUID, d.FrameOfReferenceUID = make_uid(seed, "study"), make_uid(seed, "series"), make_uid(seed, "frame")
        d.StudyID, d.SeriesNumber, d.AcquisitionNumber, d.InstanceNumber = "1", 4, 1, int(number[k]) + 1
        d.PositionReferenceIndicator, d.Laterality = "", ""
        d.ImagePositionPatient = [f"{v:.4f}" for v in start + k * steps[2]]
        row, column = steps[0] / np.linalg.norm(steps[0]), steps[1] / np.linalg.norm(steps[1])
        d.ImageOrientationPatient = [f"{v:.8f}" for v in (*row, *column)]
        d.SamplesPerPixel, d.PhotometricInterpretation = 1, "MONOCHROME2"
        d.Rows, d.Columns = ny, nx
        d.PixelSpacing = [f"{np.linalg.norm(steps[1]):.6f}", f"{np.linalg.norm(steps[0]):.6f}"]
        d.BitsAllocated = 16
        d.BitsStored, d.HighBit = (12, 11) if intercept == -1024 else (16, 15)
        d.PixelRepresentation = 1 if signed else 0
        if protocol["padding"] and signed:
            d.add_new(0x00280120, "SS", -2000)
        d.RescaleIntercept, d.RescaleSlope = intercept, 1
        if seed % 3:
            d.RescaleType = "HU"
        d.PixelData = stored[k].tobytes()
        d["PixelData"].VR = "OW"
        d.is_little_endian, d.is_implicit_VR = True, protocol["implicit"]
        pydicom.dcmwrite(folder / f"{names[k]:05d}{'' if seed % 2 else '.img'}", d, write_like_original=False)
    return folder
