import { signal } from "@preact/signals";

type Theme = "dark" | "light";
const KEY = "litfloor.theme";

export const theme = signal<Theme>("dark");

/** Follows the system until someone chooses; a choice is kept. */
export function startTheme(): void {
  const system = window.matchMedia("(prefers-color-scheme: light)");
  const read = () => show(kept() ?? (system.matches ? "light" : "dark"));
  read();
  system.addEventListener("change", read);
}

export function toggleTheme(): void {
  const next = theme.value === "dark" ? "light" : "dark";
  try {
    localStorage.setItem(KEY, next);
  } catch {
    // Storage can be switched off; the choice then lasts as long as the page.
  }
  show(next);
}

function kept(): Theme | null {
  try {
    const value = localStorage.getItem(KEY);
    return value === "dark" || value === "light" ? value : null;
  } catch {
    return null;
  }
}

function show(next: Theme): void {
  document.documentElement.dataset["theme"] = next;
  const ground = getComputedStyle(document.documentElement).getPropertyValue("--ground").trim();
  document.querySelector('meta[name="theme-color"]')?.setAttribute("content", ground);
  theme.value = next;
}
