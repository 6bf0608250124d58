import type { QualityFinding, QualityWeight } from './pressure-types.ts';

/** What a number rests on. */
export interface FactNeed {
  readonly channels: readonly ('aortic' | 'ventricular')[];
  /** The highest or the lowest pressure of a beat goes into it. */
  readonly usesPeak?: boolean;
  readonly usesTrough?: boolean;
  /** Two pressures are taken from one another. */
  readonly isPair?: boolean;
  /** A leak index or a gradient: depends on rate and load. */
  readonly isIndex?: boolean;
  readonly isTime?: boolean;
  /** Both curves are held against one another while blood is ejected. */
  readonly usesEjection?: boolean;
}

/**
 * What one finding does to one number. A signal that is wrong for it refuses it; a line that distorts peaks and troughs refuses
 * the indices made of them (HD-21: flag, do not compute) and leaves the mean.
 * Fails     never
 */
export function weighFinding(finding: QualityFinding, need: FactNeed): QualityWeight | null {
  if (finding.channel !== null && finding.channel !== 'ecg' && !need.channels.includes(finding.channel)) return null;
  const { weight } = finding;
  switch (finding.code) {
    case 'pressure-clipped-high':
      return need.usesPeak || need.usesEjection ? 'refuse' : need.isTime ? null : 'doubt';
    case 'pressure-clipped-low':
      return need.usesTrough ? 'refuse' : need.isTime ? null : 'doubt';
    case 'line-rings':
    case 'line-damped':
      if (need.isTime) return null;
      if (need.isIndex && (need.usesPeak || need.usesTrough)) return weight;
      // A slow line also comes late: in ejection one curve is held against the other's past.
      return need.usesPeak || need.usesTrough || need.usesEjection ? 'doubt' : null;
    case 'line-unknown':
      return need.isIndex && (need.usesPeak || need.usesTrough || need.usesEjection) ? 'doubt' : null;
    case 'zero-doubtful':
      return need.isTime ? null : need.isPair ? 'refuse' : 'doubt';
    case 'ventricle-below-aorta':
      return need.isPair ? 'doubt' : null;
    case 'arterial-line':
      return need.usesPeak || need.isPair ? 'doubt' : null;
    case 'catheter-whips':
      return need.usesPeak ? 'doubt' : null;
    case 'hum':
      return weight === 'doubt' && (need.usesPeak || need.usesTrough) ? 'doubt' : null;
    case 'paced-fast':
      return weight === 'tell' ? null : need.isIndex ? weight : 'doubt';
    case 'rhythm-irregular':
    case 'beats-alternate':
    case 'pullback-seen':
      return need.isIndex ? 'doubt' : null;
    case 'pressure-drifts':
      return need.isTime ? null : 'doubt';
    case 'ecg-disagrees':
      return need.isIndex || need.isTime ? 'doubt' : null;
    case 'breathing-swing':
      return need.isIndex && need.usesTrough ? (weight === 'doubt' ? 'doubt' : null) : null;
    case 'channels-swapped':
      return need.isTime ? null : weight;
    default:
      return weight === 'tell' ? null : weight;
  }
}

export const isWrongChannel = (code: string): boolean => code === 'channels-swapped' || code === 'channels-alike' || code === 'channel-unlike-its-name';
