/** Port-Addresses as people and programs write them. */

/**
 * The 15-bit Port-Address as one number: net × 256 + sub-net × 16 + universe (Art-Net 4, “Port-Address”:
 * bits 14 to 8, 7 to 4 and 3 to 0). Nothing if it is not written `net:sub-net:universe`, or if one of
 * them is above 127, 15 or 15.
 */
export function flatNumber(portAddress: string): number | null {
  const parts = /^(\d{1,3}):(\d{1,2}):(\d{1,2})$/.exec(portAddress);
  const [net = 128, subNet = 16, universe = 16] = (parts ?? []).slice(1).map(Number);
  return net < 128 && subNet < 16 && universe < 16 ? net * 256 + subNet * 16 + universe : null;
}

/** Port-Addresses in one line: three or more that follow each other as `0:0:1 to 0:0:9`. */
export function inRanges(portAddresses: readonly string[]): string {
  const runs: string[][] = [];
  let before: number | null = null;
  for (const address of portAddresses) {
    const flat = flatNumber(address);
    const run = runs.at(-1);
    if (run && flat !== null && before !== null && flat === before + 1) run.push(address);
    else runs.push([address]);
    before = flat;
  }
  return runs.map((run) => (run.length < 3 ? run.join(", ") : `${run[0]} to ${run.at(-1)}`)).join(", ");
}

export function flatTitle(flat: number): string {
  return `net × 256 + sub-net × 16 + universe = ${flat}. Many programs count universes so, from 0; those that count from 1 call this one ${flat + 1}.`;
}

/** Where a console must send to, in words. The browser's own address of the daemon helps if the daemon listens to all. */
export function target(artnet: string | undefined, hostname: string): string {
  const [address = "", port = "6454"] = (artnet ?? "").split(":");
  const named = /^\d+(\.\d+){3}$/;
  if (named.test(address) && address !== "0.0.0.0") return `${address}:${port}`;
  if (named.test(hostname) && !hostname.startsWith("127.")) return `${hostname}:${port}`;
  return `this machine's address, port ${port}`;
}
