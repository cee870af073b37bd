/** Small drawings of our own; always beside a word or under a label. */
const PATHS = {
  ok: "M3 8.5 6.5 12 13 4.5",
  cross: "M4 4l8 8M12 4l-8 8",
  warning: "M8 2 15 14H1ZM8 6.5v3.5M8 12v.1",
  danger: "M5.2 1.5h5.6l3.7 3.7v5.6l-3.7 3.7H5.2l-3.7-3.7V5.2ZM8 4.5v4M8 11v.1",
  info: "M8 1.5a6.5 6.5 0 1 0 0 13 6.5 6.5 0 0 0 0-13M8 7.3v4M8 4.8v.1",
  wait: "M8 1.5a6.5 6.5 0 1 0 0 13 6.5 6.5 0 0 0 0-13M8 4.5V8l2.5 1.8",
  broken: "M8 1.5a6.5 6.5 0 1 0 0 13 6.5 6.5 0 0 0 0-13M5.5 5.5l5 5M10.5 5.5l-5 5",
  link: "M6.5 9.5l3-3M7 4.5l1.4-1.4a2.9 2.9 0 0 1 4.1 4.1L11 8.7M9 11.5l-1.4 1.4a2.9 2.9 0 0 1-4.1-4.1L5 7.3",
  floor: "M2 2h5v5H2ZM9 2h5v5H9ZM2 9h5v5H2ZM9 9h5v5H9Z",
  faults: "M2.5 8h2.7l1.6-3.2M13.5 8h-2.7l-1.6 3.2M8 1.5v2M8 12.5v2M4 12 12 4",
  power: "M8.8 1.5 3.5 9H7.6L7 14.5 12.5 7H8.4Z",
  nodes: "M2 3h12v4H2ZM2 9h12v4H2ZM4.5 5v.1M4.5 11v.1",
  signal: "M1.5 8h2.6l1.8-5 3.4 10L11.4 8h3.1",
  test: "M8 1.5v2M8 12.5v2M1.5 8h2M12.5 8h2M3.4 3.4l1.4 1.4M11.2 11.2l1.4 1.4M12.6 3.4l-1.4 1.4M4.8 11.2l-1.4 1.4M8 5.7a2.3 2.3 0 1 0 0 4.6 2.3 2.3 0 0 0 0-4.6",
  key: "M5 7.2a3.3 3.3 0 1 0 0 6.6 3.3 3.3 0 0 0 0-6.6M7.4 8.1 13.5 2M11 4.5l2.2 2.2",
  lock: "M3.5 7.5h9v6.5h-9ZM5.3 7.5V5a2.7 2.7 0 0 1 5.4 0v2.5",
  next: "M3 8h10M8.5 3.5 13 8l-4.5 4.5",
  back: "M13 8H3M7.5 3.5 3 8l4.5 4.5",
  patch: "M1.5 4h13v8h-13ZM4.75 4v8M8 4v8M11.25 4v8",
  search: "M7 2a5 5 0 1 0 0 10a5 5 0 0 0 0-10M10.7 10.7 14 14",
  sun: "M8 5a3 3 0 1 0 0 6 3 3 0 0 0 0-6M8 1v1.6M8 13.4V15M1 8h1.6M13.4 8H15M3 3l1.2 1.2M11.8 11.8 13 13M13 3l-1.2 1.2M4.2 11.8 3 13",
  moon: "M13.5 9.8A6 6 0 0 1 6.2 2.5a6 6 0 1 0 7.3 7.3Z",
  plus: "M8 3v10M3 8h10",
  minus: "M3 8h10",
  fit: "M2 6V2h4M10 2h4v4M14 10v4h-4M6 14H2v-4",
  chevron: "M6 3.5 10.5 8 6 12.5",
  code: "M2 2h4.5v4.5H2ZM9.5 2H14v4.5H9.5ZM2 9.5h4.5V14H2ZM9.5 9.5h2v2h-2ZM14 12v2h-2M4.2 4.2v.1M11.7 4.2v.1M4.2 11.7v.1",
  print: "M4 6V2h8v4M4 11.5H2V6h12v5.5h-2M4 9.5h8V14H4Z",
  labels: "M3 13 7 3h2l4 10M4.8 9.5h6.4",
  close: "M4 4l8 8M12 4l-8 8",
  walk: "M8 14.5C8 14.5 3.5 9.8 3.5 6.2a4.5 4.5 0 0 1 9 0C12.5 9.8 8 14.5 8 14.5M8 4.8a1.4 1.4 0 1 0 0 2.8 1.4 1.4 0 0 0 0-2.8",
  down: "M8 2v8M4.5 6.5 8 10l3.5-3.5M2.5 13.5h11",
  out: "M2 8h11M9 4l4 4-4 4",
  in: "M14 8H3M7 4 3 8l4 4",
} as const;

export type IconName = keyof typeof PATHS;

export function Icon({ name, size = 16 }: { name: IconName; size?: number }) {
  return (
    <svg
      width={size}
      height={size}
      viewBox="0 0 16 16"
      fill="none"
      stroke="currentColor"
      stroke-width="1.5"
      stroke-linecap="round"
      stroke-linejoin="round"
      aria-hidden="true"
    >
      <path d={PATHS[name]} />
    </svg>
  );
}
