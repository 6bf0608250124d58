"""Recordings with known values, written without any code of this project.

DICOM waveforms by pydicom 2.3.1 (read back by its own waveform decoder); EDF+ and WFDB by the packing below, from the
format descriptions; the continuous EDF+ is compared with what BioSig 2.5 reads, where it is installed.
    /usr/bin/python3 make-recordings.py        writes files and expected.json beside this script
"""
import json, os, struct
import numpy as np
import pydicom
from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.sequence import Sequence
from pydicom.uid import ExplicitVRBigEndian, ExplicitVRLittleEndian, ImplicitVRLittleEndian

HERE = os.path.dirname(os.path.abspath(__file__))
expected = {}


def save(name, data):
    with open(os.path.join(HERE, name), 'wb') as out:
        out.write(data)


def wave(n, rate, low, high, phase=0.0):
    t = np.arange(n) / rate
    return low + (high - low) * (0.5 - 0.5 * np.cos(2 * np.pi * (1.2 * t + phase))) ** 2


# ---- DICOM ----
def code(value, scheme, meaning):
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return item


def channel(label, meaning, unit, sensitivity, correction, baseline, skew_s=None, skew_samples=None):
    item = Dataset()
    if label:
        item.ChannelLabel = label
    item.ChannelSourceSequence = Sequence([code('X1', '99TEST', meaning)])
    if unit:
        item.ChannelSensitivity = sensitivity
        item.ChannelSensitivityUnitsSequence = Sequence([code(unit, 'UCUM', unit)])
        item.ChannelSensitivityCorrectionFactor = correction
        item.ChannelBaseline = baseline
    if skew_s is not None:
        item.ChannelTimeSkew = skew_s
    if skew_samples is not None:
        item.ChannelSampleSkew = skew_samples
    item.WaveformBitsStored = 16
    return item


def group(stored, channels, rate, offset_ms, interpretation, endian, padding=None, originality='ORIGINAL'):
    kinds = {'SS': 'i2', 'US': 'u2', 'SB': 'i1', 'UB': 'u1', 'SL': 'i4', 'UL': 'u4'}
    item = Dataset()
    item.MultiplexGroupTimeOffset = offset_ms
    item.WaveformOriginality = originality
    item.NumberOfWaveformChannels = stored.shape[1]
    item.NumberOfWaveformSamples = stored.shape[0]
    item.SamplingFrequency = rate
    item.ChannelDefinitionSequence = Sequence(channels)
    dtype = np.dtype(endian + kinds[interpretation])
    item.WaveformBitsAllocated = dtype.itemsize * 8
    item.WaveformSampleInterpretation = interpretation
    vr = 'OB' if dtype.itemsize == 1 else 'OW'
    if padding is not None:
        item.add_new(0x5400100A, vr, np.array([padding], dtype).tobytes())
    data = stored.astype(dtype).tobytes()
    item.add_new(0x54001010, vr, data + b'\0' * (len(data) % 2))
    return item


def dicom(name, groups, syntax, uid, annotations=()):
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = uid
    meta.MediaStorageSOPInstanceUID = '1.2.826.0.1.3680043.8.498.1.' + str(len(name))
    meta.TransferSyntaxUID = syntax
    ds = FileDataset(os.path.join(HERE, name), {}, file_meta=meta, preamble=b'\0' * 128)
    ds.is_little_endian = syntax != ExplicitVRBigEndian
    ds.is_implicit_VR = syntax == ImplicitVRLittleEndian
    ds.SOPClassUID, ds.SOPInstanceUID = uid, meta.MediaStorageSOPInstanceUID
    ds.Modality, ds.PatientName, ds.PatientID = 'HD', 'TEST^ONE', 'T1'
    ds.StudyInstanceUID, ds.SeriesInstanceUID = '1.2.826.0.1.3680043.8.498.2', '1.2.826.0.1.3680043.8.498.3'
    ds.AcquisitionDateTime = '20240229235959.500'
    if annotations:
        ds.WaveformAnnotationSequence = Sequence(annotations)
    ds.WaveformSequence = Sequence(groups)
    ds.save_as(os.path.join(HERE, name), write_like_original=False)


n = 120
ao_raw = np.round((wave(n, 240, 60, 120) + 10) / (0.05 * 1.02)).astype(int)
lv_raw = np.round((wave(n, 240, 8, 130, 0.02) + 10) / (0.05 * 1.02)).astype(int)
ao_raw[0] = 1200  # the worked example HD-25: 51.2 mm[Hg]
pressures = np.stack([ao_raw, lv_raw], 1)
pressures[50, 1] = -32768
ecg = np.round(1000 * np.sin(np.arange(2 * n) / 9)).astype(int)[:, None]
mark = Dataset()
mark.ReferencedWaveformChannels = [2, 1]
mark.TemporalRangeType = 'POINT'
mark.ReferencedSamplePositions = [1, 97]
mark.ConceptNameCodeSequence = Sequence([code('R', '99TEST', 'R wave')])
note = Dataset()
note.ReferencedWaveformChannels = [1, 0]
note.UnformattedTextValue = 'Free text about TEST ONE'
for name, syntax, endian in (('hemodynamic-explicit.dcm', ExplicitVRLittleEndian, '<'), ('hemodynamic-implicit.dcm', ImplicitVRLittleEndian, '<'), ('hemodynamic-big.dcm', ExplicitVRBigEndian, '>')):
    dicom(name, [
        group(pressures, [channel('AO', 'Pressure', 'mm[Hg]', 0.05, 1.02, -10), channel('', 'Left ventricular pressure', 'mm[Hg]', 0.05, 1.02, -10, skew_s=0.002)], 240, 0, 'SS', endian, -32768),
        group(ecg, [channel('ECG', 'Lead II', 'uV', 2.5, 1, 0, skew_samples=3)], 480, 100, 'SL', endian),
    ], syntax, '1.2.840.10008.5.1.4.1.1.9.2.1', [mark, note])
physical = pressures * 0.05 * 1.02 - 10.0
expected['hemodynamic'] = {
    'ao': physical[:, 0].tolist(), 'lv': [None if r == -32768 else v for r, v in zip(pressures[:, 1], physical[:, 1])],
    'ecgMv': (ecg[:, 0] * 2.5 / 1000).tolist(),
}
two = np.stack([np.arange(20) * 10, np.arange(20) + 5], 1)
dicom('kpa-8-bit.dcm', [group(two, [channel('Aortic pressure', '', 'kPa', 0.1, 1, 0), channel('', 'Unknown', None, 0, 0, 0)], 100, 0, 'UB', '<')], ExplicitVRLittleEndian, '1.2.840.10008.5.1.4.1.1.9.2.1')
expected['kpa'] = (two[:, 0] * 0.1 * 1000 / 133.322387415).tolist()
follow = [group(two + 100 * k, [channel('LV', '', 'mm[Hg]', 0.1, 1, 0), channel('AO', '', 'mm[Hg]', 0.1, 1, 0)], 100, 300 * k, 'US', '<') for k in range(3)]
dicom('groups-in-time.dcm', follow, ExplicitVRLittleEndian, '1.2.840.10008.5.1.4.1.1.9.2.1')
back = pydicom.dcmread(os.path.join(HERE, 'hemodynamic-explicit.dcm')).waveform_array(1)
assert np.allclose(back[:, 0], ecg[:, 0] * 2.5)


# ---- EDF+ ----
def edf(name, signals, records, record_s, onsets, notes, kind):
    """signals: (label, unit, physical min, max, digital min, max, samples per record, digital values)."""
    width = 40
    every = signals + [('EDF Annotations', '', -1, 1, -32768, 32767, width, None)]
    f = lambda text, size: str(text).ljust(size).encode('ascii')[:size]
    head = f('0', 8) + f('T1 F 01-JAN-1940 Doe_Jane', 80) + f('Startdate 29-FEB-2024 X X X', 80) + f('29.02.24', 8) + f('23.59.58', 8)
    head += f(256 * (len(every) + 1), 8) + f(kind, 44) + f(records, 8) + f(record_s, 8) + f(len(every), 4)
    for at, size in ((0, 16), (None, 80), (1, 8), (2, 8), (3, 8), (4, 8), (5, 8), (None, 80), (6, 8), (None, 32)):
        head += b''.join(f('' if at is None else s[at], size) for s in every)
    body = b''
    for r in range(records):
        for s in signals:
            body += s[7][r * s[6]:(r + 1) * s[6]].astype('<i2').tobytes()
        lists = f'+{onsets[r]}\x14\x14\0' + notes.get(r, '')
        body += lists.encode('utf-8').ljust(2 * width, b'\0')
    save(name, head + body)


records, per = 4, 50
ao = np.round((wave(records * per, 200, 60, 120) + 50) / 400 * 65535 - 32768).astype(int)
ecg2 = np.round(800 * np.sin(np.arange(records * 100) / 7)).astype(int)
signals = [('Press AO', 'mmHg', -50, 350, -32768, 32767, per, ao), ('ECG II', 'uV', -3276.8, 3276.7, -32768, 32767, 100, ecg2)]
notes = {0: '+0.125\x150.01\x14balloon\x14\0', 2: '+0.85\x14seen by Jane\x14\0'}
edf('continuous.edf', signals, records, 0.25, ['0.5', '0.75', '1', '1.25'], {0: '+0.625\x150.01\x14balloon\x14\0', 2: '+1.1\x14seen by Jane\x14\0'}, 'EDF+C')
edf('interrupted.edf', signals, records, 0.25, ['0', '0.25', '1', '1.25'], {2: '+1.05\x14again\x14\0'}, 'EDF+D')
edf('backward.edf', signals, records, 0.25, ['0', '0.25', '0.1', '0.35'], {}, 'EDF+D')
expected['edf'] = {'ao': (-50 + (ao + 32768) * 400 / 65535).tolist(), 'ecgMv': (ecg2 * 0.1 / 1000).tolist()}


# ---- WFDB ----
def pack(fmt, v):
    v = np.asarray(v, dtype=np.int64)
    if fmt == 80: return (v + 128).astype(np.uint8).tobytes()
    if fmt == 8: return np.diff(v, prepend=v[0]).astype(np.int8).tobytes()
    if fmt == 16: return v.astype('<i2').tobytes()
    if fmt == 61: return v.astype('>i2').tobytes()
    if fmt == 160: return (v + 32768).astype('<u2').tobytes()
    if fmt == 24: return b''.join(struct.pack('<i', int(x))[:3] for x in v)
    if fmt == 32: return v.astype('<i4').tobytes()
    out = bytearray()
    if fmt == 212:
        for a, b in zip(v[0::2] & 0xFFF, np.pad(v[1::2], (0, len(v) % 2)) & 0xFFF):
            out += bytes([a & 255, (a >> 8) | ((b >> 8) << 4), b & 255])
        return bytes(out[:len(out) - (1 if len(v) % 2 else 0)])
    v = np.pad(v, (0, -len(v) % 3)) & 0x3FF
    for a, b, c in zip(v[0::3], v[1::3], v[2::3]):
        if fmt == 310:
            w0, w1 = (int(a) << 1) | ((int(c) & 31) << 11), (int(b) << 1) | ((int(c) >> 5) << 11)
            out += struct.pack('<HH', w0, w1)
        else:
            out += struct.pack('<I', int(a) | int(b) << 10 | int(c) << 20)
    return bytes(out)


def checksum(v):
    s = int(np.sum(np.asarray(v, dtype=np.int64))) & 0xFFFF
    return s - 65536 if s > 32767 else s


frames = 101
limits = {8: 500, 16: 30000, 24: 8_000_000, 32: 2_000_000_000, 61: 30000, 80: 120, 160: 30000, 212: 2000, 310: 500, 311: 500}
expected['wfdb'] = {}
for fmt, top in limits.items():
    a = np.round(np.sin(np.arange(frames) / 6) * (top if fmt != 8 else 300)).astype(np.int64)
    b = np.round(np.cos(np.arange(frames * 2) / 15) * (top if fmt != 8 else 300)).astype(np.int64)
    if fmt == 8:
        save('f8a.dat', pack(8, a)); save('f8b.dat', pack(8, b))
        lines = [f'f8a.dat 8 10(-100)/mmHg 12 0 {a[0]} {checksum(a)} 0 AO', f'f8b.dat 8x2 200/mV 12 0 {b[0]} {checksum(b)} 0 ECG II']
    else:
        mixed = np.concatenate([a[:, None], b.reshape(-1, 2)], 1).reshape(-1)
        save(f'f{fmt}.dat', b'PROLOG'[:6 if fmt == 160 else 0] + pack(fmt, mixed))
        lines = [f'f{fmt}.dat {fmt}{"+6" if fmt == 160 else ""} 10(-100)/mmHg 12 0 {a[0]} {checksum(a)} 0 AO', f'f{fmt}.dat {fmt}x2:3{"+6" if fmt == 160 else ""} 200/mV 12 0 {b[0]} {checksum(b)} 0 ECG II']
    head = f'f{fmt} 2 100/100 {frames} 10:11:12.5 29/02/2024\n' + '\n'.join(lines) + '\n# 80 F a remark about the person\n'
    save(f'f{fmt}.hea', head.encode())
    expected['wfdb'][str(fmt)] = {'ao': ((a + 100) / 10).tolist(), 'ecgMv': (b / 200)[0 if fmt == 8 else 6:].tolist()}
# segments of different signals with a gap between, laid out by the first
short = np.arange(40)
save('v_1.dat', pack(16, short)); save('v_2.dat', pack(16, np.stack([short + 500, short + 900], 1).reshape(-1)))
save('v.hea', b'v/4 2 100 130\nv_0 0\nv_1 40\n~ 50\nv_2 40\n')
save('v_0.hea', b'v_0 2 100 0\n~ 0 10/mmHg 12 0 0 0 0 LV\n~ 0 10/mmHg 12 0 0 0 0 AO\n')
save('v_1.hea', f'v_1 1 100 40\nv_1.dat 16 10/mmHg 12 0 0 {checksum(short)} 0 AO\n'.encode())
save('v_2.hea', f'v_2 2 100 40\nv_2.dat 16 10/mmHg 12 0 500 {checksum(short + 500)} 0 AO\nv_2.dat 16 10/mmHg 12 0 900 {checksum(short + 900)} 0 LV\n'.encode())
# annotations: N at 10, V at 30 with a remark, N beyond a long step at 200100, in 1/1000 s
ann = lambda c, step: struct.pack('<H', c << 10 | step)
stated = b'## time resolution: 1000'
save('f16.atr', ann(22, 0) + ann(63, len(stated)) + stated + ann(1, 10) + ann(5, 20) + ann(63, 3) + b'abc\0' + ann(59, 0) + struct.pack('<HH', 0, 500) + ann(1, 7) + ann(0, 0))

try:
    import biosig
    data = np.asarray(biosig.data(os.path.join(HERE, 'continuous.edf')))  # both signals at the higher rate, ECG in uV
    assert np.abs(data[::2, 0] - expected['edf']['ao']).max() < 1e-9
    assert np.abs(data[:, 1] / 1000 - expected['edf']['ecgMv']).max() < 1e-9
    print('BioSig agrees')
except ImportError:
    print('BioSig is not installed')

with open(os.path.join(HERE, 'expected.json'), 'w') as out:
    json.dump(expected, out, separators=(',', ':'))
