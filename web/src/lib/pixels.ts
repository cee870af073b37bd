/** What kind of pixel a panel has, and what that means for showing and printing its levels. */
import type { Floor, PanelInfo } from "../api/types";
import { MIX } from "./light";

export type PixelKind = Floor["pixel_kinds"][number];
type Kinds = Pick<Floor, "pixel_kinds">;
export type Lit = Pick<PanelInfo, "pixel_kind" | "pixels">;

const LETTERS = ["R", "G", "B", "W"] as const;

/** The kind of a panel's pixels. */
export function kindOf(panel: Lit, floor: Kinds): PixelKind | undefined {
  return floor.pixel_kinds.find((kind) => kind.name === panel.pixel_kind);
}

/** Letters of the colours that a kind has, in the order of the levels; red, green and blue if it is not known. */
export function lettersOf(kind: PixelKind | undefined): string[] {
  return LETTERS.filter((letter) => (kind ? kind.slots.includes(letter) : letter !== "W"));
}

function mixOf(kind: PixelKind | undefined): number {
  const letters = lettersOf(kind);
  if (!letters.includes("W")) return MIX.colours;
  return letters.length === 1 ? MIX.white : MIX.coloursAndWhite;
}

/** How to show every pixel of the floor. */
export function mixesOf(floor: Kinds & { panels: (Lit & Pick<PanelInfo, "first_pixel">)[] }, pixels: number): Uint8Array {
  const mixes = new Uint8Array(pixels);
  for (const panel of floor.panels) {
    mixes.fill(mixOf(kindOf(panel, floor)), panel.first_pixel, panel.first_pixel + panel.pixels);
  }
  return mixes;
}

/** `R 255  G 0  B 12  W 40`: the levels of one pixel as they stand in its slots. */
export function levelWords(levels: Uint8Array, channels: number, pixel: number, letters: readonly string[]): string {
  return letters.map((letter) => `${letter} ${levels[pixel * channels + LETTERS.indexOf(letter as "R")] ?? 0}`).join("  ");
}
