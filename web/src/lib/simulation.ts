/** Words for what can be wrong with a simulated joint. */
import type { BrokenJoint, JointFault, PanelInfo } from "../api/types";

export const FAULT: Record<Exclude<JointFault, "none">, { name: string; about: string }> = {
  supply_open: { name: "Supply side open", about: "What lies behind it has no power, unless its strip is fed from the other end as well." },
  supply_resistive: { name: "Supply side resistive", about: "What lies behind it is dim." },
  data_open: { name: "Data side open", about: "Everything behind it in the run is dark, the panels that follow as well." },
  data_frozen: { name: "Data side open, picture held", about: "Everything behind it in the run holds its last picture while it has power." },
  colour_open: { name: "One colour's wire open", about: "What lies behind it lacks a colour. Only analogue strip can break like that." },
  loose: { name: "Loose under feet", about: "The supply side opens now and then while someone stands on a switch of the panel." },
};

/** The joints of a panel by the segment behind them, counted from 1. */
export function jointsOf(panel: PanelInfo): { value: string; text: string }[] {
  return panel.segments.map((_, at) => ({ value: String(at + 1), text: jointName(at + 1) }));
}

export function jointName(segment: number): string {
  return segment === 1 ? "into segment 1" : `between segments ${segment - 1} and ${segment}`;
}

export function brokenWords({ position, segment, fault, colour }: BrokenJoint): string {
  const what = fault === "none" ? "" : FAULT[fault].name;
  return `${position}, ${jointName(segment)}: ${what.toLowerCase()}${colour === null ? "" : ` (${colour})`}`;
}
