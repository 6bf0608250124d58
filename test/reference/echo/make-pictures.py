"""Ultrasound pictures with calibrated regions and a drawn envelope of known size, written by pydicom 2.3.1.

    /usr/bin/python3 make-pictures.py        writes files and pictures.json beside this script
"""
import json, os
import numpy as np
from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.sequence import Sequence
from pydicom.uid import ExplicitVRLittleEndian, ImplicitVRLittleEndian

HERE = os.path.dirname(os.path.abspath(__file__))
ROWS, COLUMNS = 200, 320
# Spectrum: columns 40 to 299, rows 60 to 189; baseline row 80; 5 ms and 4 cm/s a pixel; velocity grows downward as negative.
BOX, BASELINE, MS, CM_S = (40, 60, 299, 189), 80, 5.0, 4.0
PEAK, BEGIN_MS, EJECTION_MS = 3.6, 250.0, 330.0


def envelope(ms):
    phase = (ms - BEGIN_MS) / EJECTION_MS
    return np.where((phase > 0) & (phase < 1), PEAK * np.sin(np.pi * np.clip(phase, 0, 1)), 0.0)


def grey():
    picture = np.zeros((ROWS, COLUMNS), np.uint8)
    for column in range(BOX[0], BOX[2] + 1):
        depth = 100 * float(envelope(MS * (column - BOX[0]))) / CM_S
        picture[BASELINE:int(round(BASELINE + depth)) + 1, column] = 180 if depth > 0 else 60
    return picture


def region(space, data, box, reference, unit, delta, value=(0.0, 0.0), flags=0, angle=None):
    item = Dataset()
    item.RegionSpatialFormat, item.RegionDataType, item.RegionFlags = space, data, flags
    item.RegionLocationMinX0, item.RegionLocationMinY0, item.RegionLocationMaxX1, item.RegionLocationMaxY1 = box
    if reference is not None:
        item.ReferencePixelX0, item.ReferencePixelY0 = reference
        item.ReferencePixelPhysicalValueX, item.ReferencePixelPhysicalValueY = value
    item.PhysicalUnitsXDirection, item.PhysicalUnitsYDirection = unit
    item.PhysicalDeltaX, item.PhysicalDeltaY = delta
    if angle is not None:
        item.add_new(0x00186034, 'FD', angle)
    return item


def save(name, pixels, regions, syntax=ExplicitVRLittleEndian, photometric='MONOCHROME2', planar=0, frames=1):
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID, meta.TransferSyntaxUID = '1.2.840.10008.5.1.4.1.1.6.1', '1.2.826.0.1.3680043.8.498.78.1', syntax
    ds = FileDataset(name, {}, file_meta=meta, preamble=b'\0' * 128)
    ds.SOPClassUID, ds.SOPInstanceUID, ds.StudyInstanceUID, ds.SeriesInstanceUID = meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID, '1.2.826.0.1.3680043.8.498.78.100', '1.2.826.0.1.3680043.8.498.78.200'
    ds.Modality, ds.PatientName, ds.PatientID = 'US', 'Invented^Person', 'T-1'
    ds.SequenceOfUltrasoundRegions = Sequence(regions)
    ds.HeartRate, ds.FrameTime = '68', '40'
    ds.SamplesPerPixel, ds.PhotometricInterpretation = (3 if pixels.ndim >= 3 else 1), photometric
    if pixels.ndim >= 3:
        ds.PlanarConfiguration = planar
    ds.Rows, ds.Columns, ds.BitsAllocated, ds.BitsStored, ds.HighBit, ds.PixelRepresentation = ROWS, COLUMNS, 8, 8, 7, 0
    ds.NumberOfFrames = frames
    ds.PixelData = pixels.tobytes()
    ds.is_little_endian, ds.is_implicit_VR = True, syntax == ImplicitVRLittleEndian
    ds.save_as(os.path.join(HERE, name), write_like_original=False)


SPECTRUM = dict(space=3, data=4, box=BOX, reference=(0, BASELINE - BOX[1]), unit=(4, 7), delta=(MS / 1000, -CM_S))
PLANE = dict(space=1, data=1, box=(40, 0, 299, 58), reference=(0, 0), unit=(3, 3), delta=(0.05, 0.05))
save('us-spectrum.dcm', grey(), [region(**PLANE), region(**SPECTRUM)])
save('us-spectrum-implicit.dcm', grey(), [region(**PLANE), region(**{**SPECTRUM, 'reference': (0, 0), 'value': (0.0, CM_S * (BASELINE - BOX[1]))})], ImplicitVRLittleEndian)
rgb = np.stack([grey(), grey() // 2, 255 - grey()], axis=-1)
save('us-rgb-planes.dcm', np.ascontiguousarray(np.moveaxis(rgb, -1, 0)), [region(**{**SPECTRUM, 'angle': 20.0})], photometric='RGB', planar=1)
save('us-no-baseline.dcm', grey(), [region(**{**SPECTRUM, 'reference': None})])
save('us-hertz.dcm', grey(), [region(**{**SPECTRUM, 'unit': (4, 5)})])
save('us-scaled.dcm', grey(), [region(**{**SPECTRUM, 'box': (80, 120, 598, 378)})])
phase = np.linspace(0, 1, 200001)
velocity = PEAK * np.sin(np.pi * phase)
with open(os.path.join(HERE, 'pictures.json'), 'w') as out:
    json.dump({'peakMPerS': PEAK, 'vtiCm': 100 * np.trapz(velocity, phase) * EJECTION_MS / 1000, 'meanMmHg': float(np.mean(4 * velocity ** 2)), 'durationMs': EJECTION_MS, 'baselineRow': BASELINE}, out, indent=1)
    out.write('\n')
