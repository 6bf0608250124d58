/**
 * One 16 x 24 frame of smallFrameValues() in the encodings of other programs: JPEG lossless and JPEG-LS by dcmtk 3.6.7
 * (dcmcjpeg +e1, dcmcjpls), JPEG 2000 by gdcm 3.0.21, RLE by dcmtk (dcmcrle).
 */
export const SMALL_ROWS = 16;
export const SMALL_COLUMNS = 24;

export function smallFrameValues(): Int16Array {
  return Int16Array.from({ length: SMALL_ROWS * SMALL_COLUMNS }, (_, i) => ((i * 37) % 251) - 100);
}

const PACKED = {
  '1.2.840.10008.1.2.4.70': [
    '/9j/4AAQSkZJRgABAQAAAQABAAD/wwALEAAQABgBAREA/8QAFwABAQEBAAAAAAAAAAAAAAAABggHD//aAAgBAQABAADv84lSpUqV',
    'LFKVKlSpUsUpUqVKlSxSlS0OlSpYpSpUqVLFKVKlSpUsUpUqVKlS4WlSpUqVLFKVKlSpUsUpUqVKlilKlS0OlSxSlSpUqVLFKVKl',
    'SpUsUpUqVKlinC0qVKlSxSlSpUqVLFKVKlSpUsUpUqWh0qWKUqVKlSxSlSpUqVLFKVKlSpUsU4WlSpUqWKUqVKlSpYpSpUqVLFKV',
    'KlS0OlilKlSpUqWKUqVKlSpYpSpUqVLFKXC0qVKlilKlSpUqWKUqVKlSpYpSpUqWh0sUpUqVKlilKlSpUqWKUqVKlSpYpS4WlSpU',
    'sUpUqVKlilKlSpUqWKUqVKlS0PFKVKlSpUsUpUqVKlSxSlSpUqWKUqXC0qVLFKVKlSpUsUpUqVKlSxSlSpUqWh4pSpUqVLFKVKlS',
    'pUsUpUqVKlSxSlS4WlSpYpSpUqVLFKVKlSpUsUpUqVKlS4WlSpUqVLFKVKlSpUsUpUqVKlilKlS//9k=',
  ],
  '1.2.840.10008.1.2.4.80': [
    '/9j/9wALEAAQABgBAREA//gADQH//wASAEMBFABA/9oACAEBAAAAAExokxHkWJMSYk2ukOgz+I8iyT109nc5kOgyT103taHQAgBQ',
    '61cSolX2gCAJ0xIkaJF9IAgC55EoUjflAIAXLQJ9In4QDErUzyhfdAIBiHTzqgfZAIB55xbRKoZAIB5bSyn31QCIdLYV1E+iARDo',
    '6ydfNAQE6PPVTj5ICA8tRTW3xQEB46SiuvggEU6GgsolYVAIlz89Ye9AQHlnpyu9yAgeO1asPagIFyeGxgexARbnbFR60BARTm7F',
    'N6kBA8datTX2wiB4alS29KAiXM1KmN6EBFOXpT3nQIHjiR4ZzzIEDv0qVZ5UCB3aVC88iAjHK0JbxoAoajHJ0K3iQIHfoUMXhQIH',
    'dnTuXgQEO5GRu6hd9ARrj51DvIEHdnTrHdQIO3OmaO4gChfZmTPHbQIpxsyZJECBHGLmTu0gQduZIlx9lAg7MyZubCBB15lX5roE',
    'aYmqQ1kCAUOYeqo1UCDr1VZGogQdWqro00CIMLVQpztJAkDB0SmigQdeii00ECDq0UameggE6aKPTOQIswNEKSoIEgX+igzUEHXm',
    'moD/2Q==',
  ],
  '1.2.840.10008.1.2.4.90': [
    '/0//UQApAAAAAAAYAAAAEAAAAAAAAAAAAAAAGAAAABAAAAAAAAAAAAABjwEB/1IADAAAAAEAAwQEAAH/XAANQICIiJCIiJCIiJD/',
    'ZAAqAAFDcmVhdGVkIGJ5IEdEQ00vT3BlbkpQRUcgdmVyc2lvbiAyLjUuMP+QAAoAAAAAAXAAAf+TwAfUDAtS/dyh38AB84aAAPhF',
    'gAHzhgPIwnbRnwuhJskfDB1fB8oVwAfaNQAPqF4APwGwFCrFMxFv5EqNiZv3FAogbadA/kalTxz3mL8ZGGFOuWwhBZ5ciBW3zJom',
    'xHS2Jov/fx/BbzQkG4DjTA1NVKjxReD+J2pN2aeKh7ADv8AH2psAPwWIAPwMgB5FN4yj713KAZNk46oKKPjTLxCaZUGX/PRUHaB6',
    'xXxTdPI1FhKZxBZ9XM6UUf9O+3qF0PYcXFP9HSIOrpt3FVsTiIqCbDw/twNKybB/Ar9rhHBYvRjSzVzueBunrCrOcReDRGRZd9mC',
    'MmayymNaKhTkSJQkWayYQdaNi/E7MFLt6Xx2gSGdjhDvRiH2HJ/PvUDUbNihrg/xz6jHc3xDrxkaPd65m0kAb4AEpfDQl5v5IFPV',
    'MhjrQuZ0CT2XrSm7v4av/24BQGabUyO1pS8jezY0pLqb4IBn/9k=',
  ],
  '1.2.840.10008.1.2.5': [
    'AgAAAEAAAABKAQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAP7//QD+//0A/v/9',
    'AP7//QAB///9AP7//QD+//0A/v/9AAH///wAAf///QD+/wAA/gD+//0A/v/9AAH///0AAP8B///9AP7//QD+//0A/v8AAP4AAf//',
    '/QD+//0A/v/9AAD/Af///QAB///8AAH///0A/v//AAEAAP7//QD+//0AAf///QD//wD//QD+//0A/v/9AAH///4AAwAA///9AP7/',
    '/QD+//0A//8A//0AAf///QD+//0A/v/+AAAA/v/9AP7//QAB///9AP7//QD+//0A/v/9AAH///0AAgD///0A/v/9AP7//QD+//0A',
    'Af///QD+//0A/v/9AP7//QD+//0AAf///QD+/wAAF5zB5gswVXqkye4TOF2CrNH2G0BlirTZ/hcjSG2SvOEGK1B1n8TpDjNYfafM',
    '8RY7YIUXr9T5HkNojbfcASZLcJW/5AkuU3iix+wRFzZbgKrP9Bk+Y4iy1/whRmuQut8EKU5znRfC5wwxVnulyu8UOV6DrdL3HEFm',
    'i7Xa/yQXSW6TveIHLFF2oMXqDzRZfqjN8hc8YYawF9X6H0RpjrjdAidMcZbA5QovVHmjyO0SNxdcgavQ9Ro/ZImz2P0iR2yRu+AF',
    'Kk90nsMX6A0yV3ymy/AVOl+ErtP4HUJnjLbbACVKF2+UvuMILVJ3ocbrEDVaf6nO8xg9Yoex1hf7IEVqj7neAyhNcpzB5gswVXqk',
    'ye4TOF0XgqzR9htAZYq02f4jSG2SvOEGK1B1n8TpFw4zWH2nzPEWO2CFr9T5HkNojbfcASZLcBeVv+QJLlN4osfsETZbgKrP9Bk+',
    'Y4iy1/wXIUZrkLrfBClOc53C5wwxVnulyu8UOV6DF63S9xxBZou12v8kSW6TveIHLFF2oMXqDw==',
  ],
} as const;

export type SmallSyntax = keyof typeof PACKED;
export const SMALL_SYNTAXES = Object.keys(PACKED) as readonly SmallSyntax[];

export function smallFrameBytes(syntax: SmallSyntax): Uint8Array {
  return new Uint8Array(Buffer.from(PACKED[syntax].join(''), 'base64'));
}
