/** Port-Addresses as people and programs write them. */

/**
 * The 15-bit Port-Address as one number: net × 256 + sub-net × 16 + universe (Art-Net 4, “Port-Address”:
 * bits 14 to 8, 7 to 4 and 3 to 0). Nothing if it is not written `net:sub-net:universe`.
 */
export function flatNumber(portAddress: string): number | null {
  const parts = portAddress.split(":").map(Number);
  const [net, subNet, universe] = parts;
  if (parts.length !== 3 || net === undefined || subNet === undefined || universe === undefined) return null;
  const flat = net * 256 + subNet * 16 + universe;
  return Number.isInteger(flat) ? flat : null;
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
