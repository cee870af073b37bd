/** Words for what can be wrong with a simulated floor. */
import type { BrokenJoint, JointFault, PanelInfo } from "../api/types";

export type Fault = Exclude<JointFault, "none">;

/** `of`: what breaks: a joint before a segment, a segment itself, or something of the whole panel. */
interface Words {
  name: string;
  about: string;
  of: "joint" | "segment" | "panel";
}

export const FAULT: Record<Fault, Words> = {
  supply_open: { name: "Supply side open", about: "What lies behind it has no power, unless its strip is fed from the other end as well.", of: "joint" },
  supply_resistive: { name: "Supply side resistive", about: "What lies behind it is dim.", of: "joint" },
  data_open: { name: "Data side open", about: "Everything behind it in the run is dark, the panels that follow as well.", of: "joint" },
  data_frozen: { name: "Data side open, picture held", about: "Everything behind it in the run holds its last picture while it has power.", of: "joint" },
  colour_open: { name: "One colour's wire open", about: "What lies behind it lacks a colour. Only analogue strip can break like that.", of: "joint" },
  link_open: { name: "Power link open", about: "The panel has no power, nor has what gets its power through it.", of: "panel" },
  loose: { name: "Loose under feet", about: "The supply side opens now and then while someone stands on a switch of the panel.", of: "joint" },
  weak: { name: "Segment weak", about: "It draws half of its current and gives half of its light.", of: "segment" },
  stuck: { name: "Segment stuck", about: "It is half lit, whatever it is sent.", of: "segment" },
  node_restarts: { name: "Node restarts", about: "The node of this panel is silent and all its panels are dark for 15 seconds, then it begins anew.", of: "panel" },
};

/** The places of a panel where that can happen, by the segment, counted from 1. */
export function placesOf(panel: PanelInfo, fault: Fault): { value: string; text: string }[] {
  const segments = FAULT[fault].of === "panel" ? panel.segments.slice(0, 1) : panel.segments;
  return segments.map((_, at) => ({ value: String(at + 1), text: placeName(at + 1, fault) }));
}

export function placeName(segment: number, fault: Fault): string {
  const { of } = FAULT[fault];
  if (of === "panel") return "the whole panel";
  if (of === "segment") return `segment ${segment}`;
  return segment === 1 ? "into segment 1" : `between segments ${segment - 1} and ${segment}`;
}

export function brokenWords({ position, segment, fault, colour }: BrokenJoint): string {
  if (fault === "none") return position;
  const place = FAULT[fault].of === "panel" ? position : `${position}, ${placeName(segment, fault)}`;
  return `${place}: ${FAULT[fault].name.toLowerCase()}${colour === null ? "" : ` (${colour})`}`;
}

/** What it does at this moment. */
export function doesNow({ fault, acts }: BrokenJoint): string {
  if (fault === "none") return "";
  if (fault === "loose") return acts ? "Open at this moment." : "Closed at this moment.";
  return acts ? FAULT[fault].about : "Does nothing at this moment.";
}
