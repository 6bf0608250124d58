import { DESK_COLOURS, PICTURE_CSS } from '../report/picture-style.ts';

export type Style = Readonly<Record<string, string>>;

/** `--name:#abc;…` as a table. */
const COLOURS: ReadonlyMap<string, string> = new Map(DESK_COLOURS.split(';').map((pair) => pair.split(':') as [string, string]));

/** Rules of the picture style by selector, in their order: `.pic .bold` -> properties. One sheet serves page and PDF. */
const RULES: readonly (readonly [selector: string, style: Style])[] = [...PICTURE_CSS.matchAll(/([^{}]+)\{([^}]*)\}/g)].flatMap(([, selectors, body]) => {
  const style = Object.fromEntries(body!.split(';').filter((p) => p.includes(':')).map((p) => [p.slice(0, p.indexOf(':')).trim(), p.slice(p.indexOf(':') + 1).trim()]));
  return selectors!.split(',').map((s) => [s.trim(), style] as const);
});

/** Style of an element inside a picture (`pic` or `cut`), its own attributes last. */
export function readStyle(picture: 'pic' | 'cut', tag: string, classes: readonly string[], attributes: Readonly<Record<string, string>>): Style {
  const names = new Set(picture === 'cut' ? ['pic', 'cut'] : ['pic']);
  const style: Record<string, string> = {};
  for (const [selector, rule] of RULES) {
    const [first, second, more] = selector.split(/\s+/);
    if (more !== undefined || !first?.startsWith('.') || !names.has(first.slice(1))) continue;
    const hits = second === undefined ? tag === 'svg' : second === tag || (second.startsWith('.') && classes.includes(second.slice(1)));
    if (hits) Object.assign(style, rule);
  }
  return { ...style, ...attributes };
}

export interface Paint {
  readonly colour: string;
  readonly opacity: number;
}

/** A CSS colour of ours (variable, #rgb, #rrggbb, rgba) on white paper; null for none and for patterns. */
export function readPaint(value: string | undefined): Paint | null {
  if (value === undefined || value === 'none' || value.startsWith('url(')) return null;
  const variable = /^var\(--([a-z-]+)/.exec(value);
  if (variable) return readPaint(COLOURS.get(`--${variable[1]}`) ?? '#000');
  const rgba = /^rgba\((\d+),\s*(\d+),\s*(\d+),\s*([\d.]+)\)$/.exec(value);
  if (rgba) return { colour: `#${[1, 2, 3].map((i) => Number(rgba[i]).toString(16).padStart(2, '0')).join('')}`, opacity: Number(rgba[4]) };
  if (value === 'currentColor') return readPaint('var(--ink)');
  return { colour: /^#[0-9a-f]{3}$/i.test(value) ? `#${[...value.slice(1)].map((c) => c + c).join('')}` : value, opacity: 1 };
}
