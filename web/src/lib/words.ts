/** What the words of the power tree mean: one explanation, used by titles and by the list that a finger can open. */
export const WORDS = {
  Draw: "Current of the picture as it is sent, computed from its levels and the floor file. Nothing is measured.",
  Asked: "Current that the console's picture would draw if it were not held back. Computed too.",
  Limit: "What must not be passed: the rating × the margin of the floor file.",
  Rated: "What the breaker, supply, fuse or panel wiring is rated for, as the floor file says.",
  Headroom: "What is left below the limit, as a share of the limit. Computed room is no permission to connect more.",
  Reserved: "The most that nodes may be drawing now if datagrams were lost or are late. It is this that is kept below the limit, and within the account of a peak where the floor file allows one. “Silent” is the part of it held for nodes that no longer answer.",
  "Own scale": "The factor that this circuit, supply or feed itself needs, to keep its own limit. 100 %: it holds nothing back.",
  "Scale in all": "What a panel's levels were last multiplied with: the factors of its circuit, supply, feed and own wiring together. The least, if its parts differ.",
} as const;

export type Word = keyof typeof WORDS;

/** Words that mean something only where something is held back. */
const OF_THE_CAP: readonly Word[] = ["Asked", "Reserved", "Own scale", "Scale in all"];

export function wordsFor(watchOnly: boolean): Word[] {
  return (Object.keys(WORDS) as Word[]).filter((word) => !watchOnly || !OF_THE_CAP.includes(word));
}

/** The explanation; where nothing is held back, the picture that is reckoned is the one that arrives. */
export function meaning(word: Word, watchOnly: boolean): string {
  if (!watchOnly) return WORDS[word];
  if (word === "Draw") return "Current of the picture as it arrives, computed from its levels and the floor file. Nothing is measured.";
  if (word === "Limit") return "What should not be passed: the rating × the margin of the floor file. Here it is only compared.";
  return WORDS[word];
}
