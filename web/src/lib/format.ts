/** Numbers for people. A missing number is a dash, never a zero. */
const NONE = "–";

export function amps(a: number | null | undefined): string {
  if (a === null || a === undefined || !Number.isFinite(a)) return NONE;
  const size = Math.abs(a);
  return `${a.toFixed(size < 10 ? 2 : size < 100 ? 1 : 0)} A`;
}

export function volts(v: number | null | undefined): string {
  return v === null || v === undefined || !Number.isFinite(v) ? NONE : `${v.toFixed(2)} V`;
}

export function watts(w: number | null | undefined): string {
  if (w === null || w === undefined || !Number.isFinite(w)) return NONE;
  return `${w.toFixed(w < 100 ? 1 : 0)} W`;
}

/** A share as whole per cent. A share below one never reads 100, nor one above zero 0. */
export function percent(share: number | null | undefined): string {
  if (share === null || share === undefined || !Number.isFinite(share)) return NONE;
  let value = Math.round(share * 100);
  if (share < 1 && value >= 100) value = 99;
  if (share > 0 && value <= 0) return "<1 %";
  if (share > 1 && value <= 100) value = 101;
  return `${value < 0 ? "−" : ""}${Math.abs(value)} %`;
}

export function seconds(s: number | null | undefined): string {
  if (s === null || s === undefined || !Number.isFinite(s)) return "never";
  if (s < 10) return `${s.toFixed(1)} s`;
  if (s < 120) return `${Math.round(s)} s`;
  if (s < 7200) return `${Math.round(s / 60)} min`;
  return `${Math.round(s / 3600)} h`;
}

/** How long ago, with nothing for numbers that only flicker. */
export function ago(s: number | null | undefined): string {
  if (s === null || s === undefined || !Number.isFinite(s)) return "never";
  return s < 0.15 ? "just now" : `${seconds(s)} ago`;
}

/** A long time in its two largest units. */
export function duration(s: number | null | undefined): string {
  if (s === null || s === undefined || !Number.isFinite(s)) return NONE;
  if (s < 60) return `${s > 0 && s < 1 ? "<1" : Math.floor(s)} s`;
  const minutes = Math.floor(s / 60);
  if (minutes < 60) return `${minutes} min ${Math.floor(s % 60)} s`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${hours} h ${minutes % 60} min`;
  return `${Math.floor(hours / 24)} d ${hours % 24} h`;
}

/** Three figures of an amount that may be tiny or huge. */
function figures(value: number): string {
  const size = Math.abs(value);
  return value.toFixed(size < 10 ? 2 : size < 100 ? 1 : 0);
}

export function ampHours(ah: number | null | undefined): string {
  return ah === null || ah === undefined ? NONE : `${figures(ah)} Ah`;
}

/** Energy from kilowatt-hours, in watt-hours while they are few. */
export function energy(kwh: number | null | undefined): string {
  if (kwh === null || kwh === undefined) return NONE;
  return kwh < 0.1 ? `${figures(kwh * 1000)} Wh` : `${figures(kwh)} kWh`;
}

export function uptime(s: number): string {
  const whole = Math.floor(s);
  const two = (value: number) => String(value).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

export function count(n: number): string {
  return Math.round(n)
    .toString()
    .replace(/\B(?=(\d{3})+$)/g, "\u202f");
}

export function rate(fps: number): string {
  return `${fps.toFixed(1)}/s`;
}

export function millimetres(mm: number): string {
  return `${Number.isInteger(mm) ? mm : mm.toFixed(1)} mm`;
}

/** Apparent power from volts and mains amperes. */
export function voltAmps(va: number): string {
  return va >= 1000 ? `${(va / 1000).toFixed(2)} kVA` : `${Math.round(va)} VA`;
}

export function plural(n: number, one: string, many = `${one}s`): string {
  return `${count(n)} ${n === 1 ? one : many}`;
}
