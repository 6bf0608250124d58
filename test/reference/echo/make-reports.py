"""Echo reports with known values, written by pydicom 2.3.1 without any code of this project.

    /usr/bin/python3 make-reports.py        writes files and expected.json beside this script
Concepts as PS3.16 TID 5200 to 5203 and CID 12300 have them; everything in them is invented.
"""
import json, os
import numpy as np
from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.sequence import Sequence
from pydicom.uid import DeflatedExplicitVRLittleEndian, ExplicitVRBigEndian, ExplicitVRLittleEndian, ImplicitVRLittleEndian

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = '1.2.826.0.1.3680043.8.498.77.'
expected = {}
COMPREHENSIVE, ENHANCED, COMPREHENSIVE_3D, SIMPLIFIED = ('1.2.840.10008.5.1.4.1.1.88.33', '1.2.840.10008.5.1.4.1.1.88.22', '1.2.840.10008.5.1.4.1.1.88.34', '1.2.840.10008.5.1.4.1.1.88.72')


def code(value, scheme, meaning):
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return item


def content(kind, relation, concept, children=()):
    item = Dataset()
    if relation:
        item.RelationshipType = relation
    item.ValueType = kind
    item.ConceptNameCodeSequence = Sequence([concept])
    if children:
        item.ContentSequence = Sequence(list(children))
    return item


def modifier(name, value):
    item = content('CODE', 'HAS CONCEPT MOD', name)
    item.ConceptCodeSequence = Sequence([value])
    return item


def num(concept, value, unit, children=(), scheme='UCUM'):
    item = content('NUM', 'CONTAINS', concept, children)
    if value is None:
        item.MeasuredValueSequence = Sequence([])
        return item
    measured = Dataset()
    measured.NumericValue = str(value)
    if unit is not None:
        measured.MeasurementUnitsCodeSequence = Sequence([code(unit, scheme, unit)])
    item.MeasuredValueSequence = Sequence([measured])
    return item


def container(concept, children, relation='CONTAINS'):
    item = content('CONTAINER', relation, concept, children)
    item.ContinuityOfContent = 'SEPARATE'
    return item


def concepts(letters):
    """SNOMED by number, or by the older letters."""
    pick = lambda number, letter, meaning: code(letter, 'SRT', meaning) if letters else code(number, 'SCT', meaning)
    return {
        'site': pick('363698007', 'G-C0E3', 'Finding Site'), 'flow': pick('260674002', 'G-C048', 'Flow Direction'), 'method': pick('370129005', 'G-C036', 'Measurement Method'), 'mode': pick('399264008', 'G-0373', 'Image Mode'),
        'valve': pick('34202007', 'T-35400', 'Aortic Valve'), 'outflow': pick('13418002', 'T-32650', 'Left Ventricle Outflow Tract'), 'ventricle': pick('87878005', 'T-32600', 'Left Ventricle'), 'mitral': pick('91134007', 'T-35300', 'Mitral Valve'),
        'forward': pick('263677008', 'R-42047', 'Antegrade Flow'), 'back': pick('312004007', 'R-42E61', 'Regurgitant Flow'),
        'cw': pick('261198000', 'R-409E3', 'Doppler Continuous Wave'), 'pw': pick('261199008', 'R-409E4', 'Doppler Pulsed'), '2d': pick('399064001', 'G-03A2', '2D mode'),
        'diameter': pick('399027007', 'G-038F', 'Cardiovascular Orifice Diameter'), 'area': pick('399367004', 'G-038E', 'Cardiovascular Orifice Area'), 'fraction': pick('399301000', 'G-0390', 'Regurgitant Fraction'),
        'stroke': pick('90096001', 'F-32120', 'Stroke Volume'), 'mean': pick('373098007', 'R-00317', 'Mean'), 'maximum': pick('56851009', 'G-A437', 'Maximum'),
    }


VELOCITY, VTI, MEAN, PEAK, HALF, RATE, EF = (code('11726-7', 'LN', 'Peak Velocity'), code('20354-7', 'LN', 'Velocity Time Integral'), code('20256-4', 'LN', 'Mean Gradient'), code('20247-3', 'LN', 'Peak Gradient'),
                                             code('20280-4', 'LN', 'Pressure Half-Time'), code('8867-4', 'LN', 'Heart rate'), code('18043-0', 'LN', 'Left Ventricular Ejection Fraction by US'))
SELECTION, USER, RECENT, DERIVATION = code('121404', 'DCM', 'Selection Status'), code('121410', 'DCM', 'User chosen value'), code('121411', 'DCM', 'Most recent value chosen'), code('121401', 'DCM', 'Derivation')
PRIVATE = code('ABC-1', '99TEST', 'A private meaning')


def section(c, site, groups, relation='CONTAINS'):
    return container(code('121070', 'DCM', 'Findings'), [modifier(c['site'], c[site])] + groups, relation)


def group(c, mode, numbers):
    return container(code('125007', 'DCM', 'Measurement Group'), [modifier(c['mode'], c[mode])] + numbers)


def adult(c):
    forward, back = modifier(c['flow'], c['forward']), modifier(c['flow'], c['back'])
    return [
        container(code('121118', 'DCM', 'Patient Characteristics'), [num(code('8277-6', 'LN', 'Body Surface Area'), 1.84, 'm2'), num(code('8302-2', 'LN', 'Patient Height'), 172, 'cm')]),
        section(c, 'valve', [
            group(c, 'cw', [
                num(VELOCITY, 210.5, 'cm/s', [forward]), num(VTI, 0.42, 'm', [forward]), num(MEAN, 9.5, 'mm[Hg]', [forward]), num(PEAK, 17.7, 'mm[Hg]', [forward]),
                num(HALF, 0.43, 's', [back]), num(VELOCITY, 4.1, 'm/s', [back]), num(VTI, 140, 'cm', [back]),
            ]),
            group(c, '2d', [num(c['area'], 1.62, 'cm2', [forward, modifier(c['method'], code('125215', 'DCM', 'Continuity Equation by Velocity Time Integral'))]), num(c['fraction'], 12, '%', [back]), num(PRIVATE, 3, 'mm')]),
        ]),
        section(c, 'ventricle', [
            group(c, '2d', [num(EF, 58, '%'), num(c['diameter'], 21, 'mm', [modifier(c['site'], c['outflow'])]), num(c['stroke'], 90, 'ml')]),
            group(c, 'pw', [num(VELOCITY, 1.02, 'm/s', [modifier(c['site'], c['outflow'])]), num(VTI, 21.5, 'cm', [modifier(c['site'], c['outflow']), forward]),
                            num(c['stroke'], 74, 'cm3', [modifier(c['method'], code('125219', 'DCM', 'Doppler Volume Flow'))])]),
        ]),
        section(c, 'mitral', [group(c, 'cw', [num(MEAN, 2, 'mm[Hg]'), num(RATE, 71, '{H.B.}/min')])]),
    ]


ADULT = {'body-surface': 1.84, 'valve-velocity': 2.105, 'valve-vti': 42, 'valve-mean-gradient': 9.5, 'valve-peak-gradient': 17.7, 'half-time': 430, 'leak-velocity': 4.1, 'leak-vti': 140,
         'valve-area': 1.62, 'regurgitant-fraction': 12, 'ejection-fraction': 58, 'outflow-diameter': 2.1, 'outflow-velocity': 1.02, 'outflow-vti': 21.5, 'stroke-volume': 74, 'heart-rate': 71}
ADULT_UNREAD = {'LN 8302-2': 'not-of-the-form', '99TEST ABC-1': 'not-of-the-form', 'SCT 90096001': 'method-unknown', 'LN 20256-4': 'not-of-the-form'}


def save(name, sop, children, syntax=ExplicitVRLittleEndian, title=code('125200', 'DCM', 'Adult Echocardiography Procedure Report'), template='5200', verified='VERIFIED', complete='COMPLETE', values=None, unread=None, failure=None):
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID, meta.TransferSyntaxUID = sop, ROOT + str(len(expected) + 1), syntax
    ds = FileDataset(name, {}, file_meta=meta, preamble=b'\0' * 128)
    ds.SOPClassUID, ds.SOPInstanceUID, ds.StudyInstanceUID, ds.SeriesInstanceUID = sop, meta.MediaStorageSOPInstanceUID, ROOT + '100', ROOT + '200'
    ds.Modality, ds.PatientName, ds.PatientID, ds.PatientBirthDate, ds.PatientSex = 'SR', 'Invented^Person', 'T-1', '19400102', 'F'
    ds.StudyDate = ds.ContentDate = '20260302'
    ds.StudyTime = ds.ContentTime = '101400'
    ds.SeriesNumber = ds.InstanceNumber = 1
    ds.CompletionFlag, ds.VerificationFlag = complete, verified
    ds.ValueType, ds.ContinuityOfContent = 'CONTAINER', 'SEPARATE'
    ds.ConceptNameCodeSequence = Sequence([title])
    tid = Dataset()
    tid.MappingResource, tid.TemplateIdentifier = 'DCMR', template
    ds.ContentTemplateSequence = Sequence([tid])
    ds.ContentSequence = Sequence(children)
    ds.is_little_endian = syntax != ExplicitVRBigEndian
    ds.is_implicit_VR = syntax == ImplicitVRLittleEndian
    ds.save_as(os.path.join(HERE, name), write_like_original=False)
    expected[name] = {'values': values or {}, 'unread': unread or {}, 'failure': failure}


NUMBERS, LETTERS = concepts(False), concepts(True)
save('adult-explicit.dcm', COMPREHENSIVE, adult(NUMBERS), values=ADULT, unread=ADULT_UNREAD)
save('adult-implicit.dcm', COMPREHENSIVE, adult(LETTERS), ImplicitVRLittleEndian, values=ADULT, unread=ADULT_UNREAD)
save('adult-big.dcm', ENHANCED, adult(LETTERS), ExplicitVRBigEndian, values=ADULT, unread=ADULT_UNREAD)
save('adult-deflated.dcm', COMPREHENSIVE_3D, adult(NUMBERS), DeflatedExplicitVRLittleEndian, values=ADULT, unread=ADULT_UNREAD)

pre = lambda loinc, value, unit: num(code(loinc, 'LN', 'x'), value, unit)
save('simplified.dcm', SIMPLIFIED, [container(code('125301', 'DCM', 'Pre-coordinated Measurements'), [
    pre('79962-7', 11, 'mm[Hg]'), pre('79964-3', 2.3, 'm/s'), pre('79965-0', 46, 'cm'), pre('80028-4', 2.2, 'cm'), pre('80030-0', 19, 'cm'), pre('79947-8', 420, 'ms'), pre('79948-6', 4, 'mm'),
    pre('79950-2', 18, 'mL'), pre('79960-1', 0.08, 'cm2'), pre('79944-5', 15, '%'), pre('79991-6', 0.55, '1'), pre('80058-1', 80, 'mm[Hg]')])],
     title=code('125303', 'DCM', 'Simplified Echo Procedure Report'), template='5300',
     values={'valve-mean-gradient': 11, 'valve-velocity': 2.3, 'valve-vti': 46, 'outflow-diameter': 2.2, 'outflow-vti': 19, 'half-time': 420, 'vena-contracta': 0.4, 'regurgitant-volume': 18, 'regurgitant-orifice': 0.08, 'jet-width': 15, 'ejection-fraction': 55},
     unread={'LN 80058-1': 'not-of-the-form'})

c = NUMBERS
chosen, recent, mean, maximum = modifier(SELECTION, USER), modifier(SELECTION, RECENT), modifier(DERIVATION, c['mean']), modifier(DERIVATION, c['maximum'])
save('several.dcm', COMPREHENSIVE, [section(c, 'valve', [group(c, 'cw', [
    num(VELOCITY, 2.0, 'm/s'), num(VELOCITY, 2.4, 'm/s', [chosen]), num(VELOCITY, 2.2, 'm/s', [mean]), num(VELOCITY, 2.1, 'm/s', [recent]),
    num(MEAN, 10, 'mm[Hg]'), num(MEAN, 20, 'mm[Hg]'), num(MEAN, 15.5, 'mm[Hg]', [mean]), num(MEAN, 20, 'mm[Hg]', [maximum]),
    num(VTI, 40, 'cm'), num(VTI, 44, 'cm'), num(VTI, 80, 'cm')])])],
     verified='UNVERIFIED', complete='PARTIAL', values={'valve-velocity': 2.4, 'valve-mean-gradient': 15.5, 'valve-vti': 44}, unread={'LN 20256-4': 'derived-otherwise'})
save('odd-units.dcm', COMPREHENSIVE, [section(c, 'valve', [group(c, 'cw', [
    num(VELOCITY, 2.0, 'mm[Hg]'), num(MEAN, 10, None), num(PEAK, None, None), num(VTI, 420, 'm'), num(HALF, 430, 'ms', [modifier(c['flow'], c['back'])], scheme='99UNIT')])])],
     unread={'LN 11726-7': 'unit-contradicts', 'LN 20256-4': 'unit-missing', 'LN 20247-3': 'value-missing', 'LN 20354-7': 'out-of-bounds', 'LN 20280-4': 'unit-contradicts'})
save('empty.dcm', COMPREHENSIVE, [container(code('121070', 'DCM', 'Findings'), [modifier(c['site'], c['valve'])])], failure='report-empty')


def nest(depth, inner):
    for _ in range(depth):
        inner = container(code('121070', 'DCM', 'Findings'), [inner])
    return inner


save('deep.dcm', COMPREHENSIVE, [nest(40, num(EF, 58, '%'))], failure='report-too-large')
with open(os.path.join(HERE, 'expected.json'), 'w') as out:
    json.dump(expected, out, indent=1, sort_keys=True)
    out.write('\n')
