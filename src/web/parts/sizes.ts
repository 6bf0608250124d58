import { formatText } from '../../core/text/catalogue.ts';
import { IMPORT_EN } from '../../core/text/import-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';

/** Bytes in decimal units, as disks and links are sold. */
export function saySize(bytes: number): string {
  if (bytes >= 1e9) return `${formatNumber(bytes / 1e9, 2)} GB`;
  if (bytes >= 1e6) return `${formatNumber(bytes / 1e6, bytes >= 1e7 ? 0 : 1)} MB`;
  return `${formatNumber(bytes / 1e3, 0)} kB`;
}
export function sayTimeLeft(seconds: number): string {
  if (!Number.isFinite(seconds)) return IMPORT_EN.timeUnknown;
  if (seconds < 60) return IMPORT_EN.lessThanMinute;
  const minutes = Math.ceil(seconds / 60);
  return minutes < 60 ? formatText(IMPORT_EN, 'minutes', { count: minutes }) : formatText(IMPORT_EN, 'hours', { hours: Math.floor(minutes / 60), minutes: minutes % 60 });
}
