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
        'Say it aloud: no output',
        'Pressure line: open, zeroed, not damped?',
        'No pulse: start chest compressions',
        'Rhythm: pace, shock or neither?',
        'Call anaesthesia and surgery to the table',
        'Echo now: fluid, walls, valve',
        'Wire in the ventricle: keep it unless it does harm',
        'One picture of each coronary',
        'Cause found: go to its card',
        'Support of the circulation: who says yes?',
      ],
    },
    {
      id: 'tamponade', title: 'Tamponade',
      lines: [
        'Say it aloud: tamponade',
        'Echo: where does the fluid lie?',
        'Volume and pressure support by protocol',
        'Call surgery and blood bank',
        'Drain set to the table',
        'Drain in under echo',
        'Count what comes out',
        'Reverse the anticoagulant? The operator decides',
        'Look for the source: wire, lead, root',
        'It goes on: open the chest? Who decides',
      ],
    },
    {
      id: 'coronary-obstruction', title: 'Coronary obstructed',
      lines: [
        'Say it aloud: coronary, which side',
        'One picture of the root',
        'Pressure support by protocol',
        'Frame not fully released: can it be taken back?',
        'Wire already in the coronary: use it',
        'Coronary kit to the table',
        'Cross the ostium: who does it?',
        'Call surgery',
        'Support of the circulation: who says yes?',
        'One picture of the other ostium',
      ],
    },
    {
      id: 'annulus-rupture', title: 'Annulus ruptured',
      lines: [
        'Say it aloud: rupture',
        'No further balloon',
        'Echo and one picture: contained or free?',
        'Call surgery, anaesthesia and blood bank',
        'Volume and blood by protocol',
        'Fluid presses: go to the card Tamponade',
        'Reverse the anticoagulant? The operator decides',
        'Contained: set the time of the next look',
        'Free: operate or not? Who decides',
      ],
    },
    {
      id: 'valve-embolised', title: 'Valve embolised',
      lines: [
        'Say it aloud: valve off, up or down',
        'Keep the wire through the valve',
        'Pressure and rhythm: stable?',
        'One picture: where does it lie, are ostia and arch vessels free?',
        'In the ventricle: do not pull',
        'In the ventricle: call surgery',
        'In the aorta: snare to the table',
        'In the aorta: hold it where it does no harm',
        'Second valve: size and date read aloud',
        'Second valve in: start depth read aloud',
      ],
    },
    {
      id: 'vascular-bleed', title: 'Vessel bleeds',
      lines: [
        'Say it aloud: bleeding, which side',
        'Press by hand',
        'Volume and blood by protocol',
        'Picture from the second access',
        'Balloon across the place',
        'Note how long the balloon holds',
        'Covered stent to the table',
        'Reverse the anticoagulant? The operator decides',
        'Call vascular surgery',
        'Look at the leg: pulse and colour',
      ],
    },
    {
      id: 'complete-block', title: 'Complete block',
      lines: [
        'Say it aloud: block',
        'Pace: capture seen on the pressure curve?',
        'No capture: higher output',
        'No capture: move the lead',
        'Wire still in the ventricle: pace over it if prepared',
        'No pacing at all: go to the card Loss of output',
        'Second lead by the neck: who puts it in?',
        'Note the threshold',
        'The lead stays in',
        'Tell the ward: rule, lead, whom to call',
      ],
    },
  ],
};
