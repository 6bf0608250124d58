import type { RescueCards } from './frozen-types.ts';

/** Said beside every card that no person of the hospital has signed. */
export const COMMON_PRACTICE = 'common practice, adapt';

/**
 * Plain defaults, so that a card is never empty: one action a line, no dose, no product, no order of preference between
 * ways out. They come from common practice [M] and are marked so until the hospital signs its own (`trinadir sign`).
 */
export const DEFAULT_RESCUE_CARDS: RescueCards = {
  format: 'trinadir.rescue/1', hospital: '', signedBy: '', signedAt: '', isDefault: true,
  cards: [
    {
      id: 'loss-of-output', title: 'Loss of output',
      lines: [
        'Say it aloud: no output. Note the time',
        'Pressure line: zeroed, open, not damped?',
        'Start chest compressions when there is no pulse',
        'Rhythm: pace, shock or neither',
        'Call anaesthesia and surgery to the table',
        'Echo now: fluid, walls, valve, outflow',
        'Wire in the ventricle: keep it unless it does harm',
        'Coronaries: one picture of each',
        'Leak or narrow valve: go to that card or finish the release',
        'Decide on circulatory support: who says yes',
      ],
    },
    {
      id: 'tamponade', title: 'Tamponade',
      lines: [
        'Say it aloud: tamponade. Note the time',
        'Echo: confirm the fluid and where it lies',
        'Volume and pressure support by protocol',
        'Call surgery and blood bank',
        'Drain: set, needle and echo window ready',
        'Drain in, aspirate, keep the count',
        'Reverse the anticoagulant: the operator decides',
        'Look for the source: wire, pacing lead, root',
        'Bleeding goes on: open the chest, who decides',
      ],
    },
    {
      id: 'coronary-obstruction', title: 'Coronary obstructed',
      lines: [
        'Say it aloud: coronary. Which side? Note the time',
        'Picture of the root, then of the ostium',
        'Pressure support by protocol',
        'Frame not fully released: can it still be taken back?',
        'Wire or catheter in place beforehand: use it',
        'Cross, dilate, stent: who does it, which kit',
        'Call surgery',
        'Support of the circulation: who says yes',
        'Second ostium: one picture before leaving',
      ],
    },
    {
      id: 'annulus-rupture', title: 'Annulus ruptured',
      lines: [
        'Say it aloud: rupture. Note the time',
        'No further balloon',
        'Echo and one picture: contained or free?',
        'Call surgery, anaesthesia and blood bank',
        'Volume and blood by protocol',
        'Drain the pericardium when it presses',
        'Reverse the anticoagulant: the operator decides',
        'Contained: watch, picture again, set the time',
        'Free: operate or not, who decides',
      ],
    },
    {
      id: 'valve-embolised', title: 'Valve embolised',
      lines: [
        'Say it aloud: valve moved off. Up or down? Note the time',
        'Keep the wire through the valve',
        'Pressure and rhythm: stable?',
        'Picture: where it lies, which way it points, ostia and arch vessels free?',
        'In the aorta: snare ready, hold it where it does no harm',
        'In the ventricle: do not pull; call surgery',
        'Second valve: check size, date, loading',
        'Second valve in: start depth read aloud again',
        'Ostia and arch vessels: one picture at the end',
      ],
    },
    {
      id: 'vascular-bleed', title: 'Vessel bleeds',
      lines: [
        'Say it aloud: bleeding. Which side? Note the time',
        'Press by hand or sheath back in',
        'Volume and blood by protocol',
        'Picture from the second access',
        'Balloon across, hold, note the time',
        'Covered stent: size and kit ready',
        'Reverse the anticoagulant: the operator decides',
        'Call vascular surgery',
        'Leg: pulse and colour; picture at the end',
      ],
    },
    {
      id: 'complete-block', title: 'Complete block',
      lines: [
        'Say it aloud: block. Note the time',
        'Pace: capture seen on the pressure curve?',
        'No capture: move the lead, higher output',
        'No pacing: compressions, pads on',
        'Wire still in the ventricle: pace over it if prepared',
        'Second lead by the neck: who puts it in',
        'Lead stays; threshold noted',
        'Tell the ward: rule, lead, who to call',
      ],
    },
  ],
};
