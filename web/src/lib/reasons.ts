/** Plain words for the reasons with which packets are not taken. */
const REASONS: Record<string, { title: string; text: string }> = {
  not_artnet: {
    title: "Not Art-Net",
    text: "Something else was sent to this port. Harmless, unless a sender is set to the wrong protocol.",
  },
  truncated: {
    title: "Cut short",
    text: "The packet ends before it should. A sender or a network device breaks packets.",
  },
  bad_version: {
    title: "Other protocol version",
    text: "The packet names a protocol version that this daemon does not speak.",
  },
  bad_length: {
    title: "Wrong length",
    text: "The packet gives its number of slots as 0, or as more than the 512 of a universe.",
  },
  bad_address: {
    title: "Impossible address",
    text: "The packet names a universe that can't exist.",
  },
  unknown_opcode: {
    title: "Unknown kind of packet",
    text: "It calls itself Art-Net but is of no kind that the standard knows. Known kinds that litfloor has no use for are not refused: they count as passed over.",
  },
  old_sequence: {
    title: "Late or doubled",
    text: "A newer frame had already arrived. A few are normal on Wi-Fi; many mean that the network reorders or that one sender is heard twice.",
  },
  third_source: {
    title: "Third source",
    text: "Two senders are merged already; a third one for the same universe is ignored. Switch one of them off.",
  },
  switches_from_elsewhere: {
    title: "Switches from elsewhere",
    text: "The universe is one of switches under the panels, but this sender is not the node that the floor file names for it. Check the console's start universe and the node's address.",
  },
  unmapped: {
    title: "Universe not in the floor file",
    text: "It is a good packet, but nothing on this floor uses that universe. Check the console's start universe.",
  },
};

export function explainReason(word: string): { title: string; text: string } {
  return (
    REASONS[word] ?? {
      title: word.replaceAll("_", " "),
      text: "This page has no explanation for this word; the daemon's log has more.",
    }
  );
}

/** What became of a datagram that was not refused. */
const OUTCOMES: Record<string, string> = {
  taken: "Taken",
  held_for_sync: "Taken, waits for sync",
  sync: "Sync",
  sync_ignored: "Sync without effect",
  poll: "Question who is there",
  poll_reply: "Answer of a node",
  switches: "Switches under panels",
  passed_over: "Art-Net without use here",
};

export function outcomeWord(word: string): string {
  return OUTCOMES[word] ?? explainReason(word).title;
}
